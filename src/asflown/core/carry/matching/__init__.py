"""What became of every parameter of one catalog in another: scored, calibrated, silent where unsure."""
