"""What the user writes: frozen models of the site and its equipment, and the files they come from."""
