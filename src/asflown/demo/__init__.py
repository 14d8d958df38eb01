"""A simulated aircraft, its board and its firmware: the worked example."""
