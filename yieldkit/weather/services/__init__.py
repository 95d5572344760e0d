"""Weather of a place, asked of public services."""
