"""Outshop: the workshop tool of the private collector-restorer of model locomotives."""

__version__ = "0.1.0"
