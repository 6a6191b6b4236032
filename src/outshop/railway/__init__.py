"""The trade's fixed knowledge: scales, wheel arrangements, eras, standards, resistance."""
