"""Strings and trackers as circuits of single diodes, solved to their maxima."""
