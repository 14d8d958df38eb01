"""The store: one SQLite file and the originals as plain dated files."""

from asflown.adapters.store.store import FolderStore, open_store

__all__ = ["FolderStore", "open_store"]
