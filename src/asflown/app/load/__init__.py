"""Writing an image to a board, and putting the old flash back."""
