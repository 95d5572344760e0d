"""Notebooks run headless into self-contained pages and onto paper."""
