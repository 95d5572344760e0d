"""The plan of a batch of runs: its file, its values, and the conditions that leave runs out."""
