"""A clip or timing marks become speed, start delay, creep and coasting."""
