"""Faces: what a person sees; no rule and no arithmetic."""
