"""Files in, estimates out."""
