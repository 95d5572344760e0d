"""Tables and sentences, for a page and for a terminal."""
