"""Weather files in their formats, read into plain columns with their times."""
