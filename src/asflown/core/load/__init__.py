"""The open protocols by which an image is written: their bytes and states, without any wire."""
