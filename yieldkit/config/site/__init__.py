"""The site as one model, and the files that it is read from and written to."""
