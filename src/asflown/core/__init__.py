"""What asflown computes: no I/O, no clock, no randomness without a seed."""
