"""The ground everybody stands on: errors, names of quantities, and the way files are written."""
