"""Power: the pack's open-circuit voltage and resistance, used charge, and what hovering takes."""
