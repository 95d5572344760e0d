"""The command line: one file per command; `main` parses, the others call and print."""
