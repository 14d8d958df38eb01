"""The invented firmware family *marram*: its parameters, what changed between releases, and its files."""
