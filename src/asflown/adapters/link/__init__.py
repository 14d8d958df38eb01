"""Aircraft by wire. No judgement."""
