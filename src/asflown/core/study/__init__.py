"""Evidence of what the computing packages measured: the one place where it is made."""
