"""A simulated locomotive for the demo and for tests."""
