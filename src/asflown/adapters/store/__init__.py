"""The store: one SQLite file and the originals as plain dated files."""
