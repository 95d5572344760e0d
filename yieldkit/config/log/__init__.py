"""Descriptions of plant logs, read from their files."""
