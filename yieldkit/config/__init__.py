"""What the user writes: frozen models of site and equipment, and the files they come from."""
