"""Diode parameters from a datasheet, and the temperature of cells."""
