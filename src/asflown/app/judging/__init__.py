"""Planning the flying after a refit, and judging it."""
