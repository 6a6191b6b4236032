"""Schema history."""
