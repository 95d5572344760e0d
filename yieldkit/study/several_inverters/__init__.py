"""The best wirings over several inverters, found by bounds, and which inverters to choose."""
