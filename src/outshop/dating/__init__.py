"""Evidence windows become years and contradictions."""
