"""Meter readings become currents, coils, motor constants."""
