"""How times are taken."""

import os
import time
from collections.abc import Callable


def as_installed(folder: str) -> dict[str, str]:
    """Return the environment of a process that finds byte code, as an installation has it.

    An installer leaves byte code beside the sources. Where they are run from a tree, or Python was
    told to write none, every process would compile the sources anew; here it is kept in a folder.
    """
    kept = {key: value for key, value in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"}
    return {**kept, "PYTHONPYCACHEPREFIX": folder}


def best_of(work: Callable[[], object], runs: int = 5) -> float:
    """Return the least time of several runs [s]; one run before them warms everything up."""
    work()
    times = []
    for _ in range(runs):
        started = time.perf_counter()
        work()
        times.append(time.perf_counter() - started)
    return min(times)


def best_of_pair(
    first: Callable[[], object], second: Callable[[], object], runs: int = 5
) -> tuple[float, float]:
    """Return the least times of two works [s]; their runs alternate and meet the same load."""
    first()
    second()
    times: tuple[list[float], list[float]] = ([], [])
    for _ in range(runs):
        for work, kept in zip((first, second), times, strict=True):
            started = time.perf_counter()
            work()
            kept.append(time.perf_counter() - started)
    return min(times[0]), min(times[1])
