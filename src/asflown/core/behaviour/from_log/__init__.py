"""A controller read out of a log: gains, feed-forward and filters of a declared family, with intervals."""
