"""The first year: what a plant did beside what its site lets expect, and what to look at first."""
