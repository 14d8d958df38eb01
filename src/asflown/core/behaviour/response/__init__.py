"""The response of an aircraft's rate loop, measured from a flight: figures with intervals, by named routes."""
