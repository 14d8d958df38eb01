"""The one template set of sheets for page, print and PDF."""
