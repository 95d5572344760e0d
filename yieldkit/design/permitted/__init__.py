"""Which wirings no limit forbids, found from what may hang on each input."""
