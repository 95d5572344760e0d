"""Weather files in, one canonical weather Dataset out."""
