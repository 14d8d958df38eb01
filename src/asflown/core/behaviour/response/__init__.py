"""The response of an aircraft's rate loop from a flight: figures with intervals, by named routes."""
