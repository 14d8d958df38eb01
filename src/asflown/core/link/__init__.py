"""Talking with an aircraft: what may be sent, and what an answer means. No wire."""
