"""The bench: what the cards of a refit rest on, values read, and what was put right."""
