"""Training and judging the matcher: families with a published truth, made-up ones, the fit, the figures."""
