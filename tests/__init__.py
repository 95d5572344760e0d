"""Tests, one folder per room of the package."""
