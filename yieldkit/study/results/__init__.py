"""Comparisons, rankings and draws saved, and found again by what they were made from."""
