"""Hunt for trackers whose maximum one of three ways misses.

Run it by hand: `python -m tests.physics.circuit.hunt 0 100000`.

Every drawn tracker's best point is looked for in three ways: the operating point, the best of
all maxima, and brute force that shares nothing with the engine. Failures are printed.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Iterable

import numpy as np

from tests.physics.circuit import dense
from tests.physics.circuit.drawn import Drawn, parallel_tracker
from yieldkit.physics.circuit.api import group_maxima, operating_point, tracker_maxima

# Shares of the best above which every local maximum has to be among all maxima.
LOCAL = 0.997


def stc_power(drawn: Drawn) -> float:
    """Return a tracker's power [W] if each group gave what its brightest light gives."""
    most = float(group_maxima(drawn.conditions).max())
    return most * sum(run.count for string in drawn.strings for run in string.runs)


def misses(drawn: Drawn) -> list[str]:
    """Return in words what the three ways disagree about, nothing where they agree.

    Powers have to agree within 1e-6 of the power and 1e-9 of the tracker's size.
    """
    point = operating_point(drawn.conditions, drawn.strings)
    every = tracker_maxima(drawn.conditions, drawn.strings)[0]
    brute = dense.maxima(drawn.conditions, drawn.strings, LOCAL)
    best = float(brute[:, 1].max(initial=0.0))
    allowed = 1e-6 * best + 1e-9 * stc_power(drawn)
    words = []
    if point.status[0] != 0:
        words.append("status of the operating point")
    if abs(point.p_dc[0] - best) > allowed:
        words.append(f"operating point {point.p_dc[0]:.6f} W, brute force {best:.6f} W")
    among = float(every[:, 1].max()) if every.size else 0.0
    if abs(among - best) > allowed:
        words.append(f"best of all maxima {among:.6f} W, brute force {best:.6f} W")
    for volts, power in brute:
        if not np.any(np.abs(every[:, 1] - power) <= allowed):
            words.append(f"no maximum of {power:.6f} W at {volts:.2f} V among all maxima")
    return words


def failures(seeds: Iterable[int]) -> list[tuple[int, list[str]]]:
    """Return the seeds of the trackers that one of the ways misses, and what it misses."""
    found = ((seed, misses(parallel_tracker(seed))) for seed in seeds)
    return [(seed, words) for seed, words in found if words]


def say(line: str) -> None:
    """Write a line at once."""
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


def main() -> None:
    """Hunt from the first seed given, as many as the second number says."""
    first, number = int(sys.argv[1]), int(sys.argv[2])
    begun = time.perf_counter()
    failed = 0
    for start in range(first, first + number, 500):
        seeds = range(start, min(start + 500, first + number))
        for seed, words in failures(seeds):
            failed += 1
            say(f"{seed}: {'; '.join(words)}")
        say(f"up to {seeds[-1]}: {time.perf_counter() - begun:.0f} s")
    say(f"{failed} of {number} trackers missed")


if __name__ == "__main__":
    main()
