"""Reading and writing an aircraft's settings over a link."""
