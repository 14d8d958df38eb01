"""Bytes to core objects and back; one file a format; nothing here opens a file."""
