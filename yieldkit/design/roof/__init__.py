"""Where each string's modules lie on the roof."""
