"""The bench: what one refit adds to the standing cards, what is read there, and what a fix opens again."""
