"""A recording becomes runs, levels, orders, speeds and laps."""
