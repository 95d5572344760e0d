"""Wirings side by side, and what sets them apart."""
