"""Whether weather can be believed: bounds, gaps, the file's clock, agreement of components."""
