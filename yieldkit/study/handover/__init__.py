"""Is it wired as drawn: the sheet to hand over, readings of it, and what they say."""
