"""What becomes of each setting when an aircraft goes from one release to another."""
