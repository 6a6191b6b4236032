"""Lots, bids, values and claims."""
