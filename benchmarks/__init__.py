"""Benchmarks: each module has `run()`, which gives numbers by name, best of several runs."""
