"""Printed sheets and the charts in them."""
