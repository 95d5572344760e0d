"""How much is drawn: an ordinary run takes a part, YIELDKIT_LONG_TESTS=1 takes all of it."""

import os

LONG = os.environ.get("YIELDKIT_LONG_TESTS") == "1"


def amount(ordinary: int, long: int) -> int:
    """Return how many examples, circuits or years a test takes in this run."""
    return long if LONG else ordinary
