"""The main road: weather, sun, cells, trackers, AC side, loss budget."""
