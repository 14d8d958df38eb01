"""Image files, one reader a container: bytes into :class:`asflown.core.image.model.Image`."""
