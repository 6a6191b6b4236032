"""Backups, and the open archive that carries a collection to another machine or program."""
