"""How an aircraft will answer with another controller, from the plant that a flight showed."""
