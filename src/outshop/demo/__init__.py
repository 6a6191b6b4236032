"""The demo collection: an invented railway, computed by the real code."""
