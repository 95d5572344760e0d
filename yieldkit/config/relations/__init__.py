"""What parts of a site mean for one another: contradictions, slips, what can't be built."""
