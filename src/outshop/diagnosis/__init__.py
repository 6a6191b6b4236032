"""Observations and estimates become causes and the cheapest next check."""
