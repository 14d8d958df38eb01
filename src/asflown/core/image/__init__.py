"""Images, the flash they go to, and what can be told before anything is written."""
