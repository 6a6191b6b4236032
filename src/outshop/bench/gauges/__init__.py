"""Wheels, rolling, pull, mass and scale."""
