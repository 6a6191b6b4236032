"""A shelf of vehicles becomes a train this engine can haul."""
