"""What motor commands tell: mixer, balance, saturation, headroom, thrust curve, lost steps."""
