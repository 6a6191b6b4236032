"""What the browser shows; nothing is computed here."""
