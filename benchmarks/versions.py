"""Today's version against another one, installed beside it in an environment of its own.

`python -m benchmarks --old PYTHON` names the other environment's python. Both run the jobs of
`version_jobs.py` in turn, each in a process of its own that lives through all of them, so that
both meet the same load; each has compiled its solvers before, in a cache of its own. Of nine pairs
(five where a job takes seconds) the median of the ratios is taken; a first comparison, which
compiles into an empty cache, is made once.
"""

import contextlib
import statistics
import subprocess
import sys
import tempfile
from collections.abc import Mapping
from pathlib import Path

from benchmarks.timing import as_installed

PAIRS = {
    "simulate": 9,
    "compare": 9,
    "minute_year": 5,
    "draws": 5,
    "second_process": 9,
    "first_compare": 1,
}
KEYS = {
    "simulate": "simulate_vs_old_time_ratio",
    "compare": "compare_vs_old_time_ratio",
    "minute_year": "minute_year_vs_old_time_ratio",
    "draws": "draws_vs_old_time_ratio",
    "second_process": "second_process_vs_old_time_ratio",
    "first_compare": "first_compare_vs_old_time_ratio",
}


class Version:
    """A version of the package at work in a process of its own."""

    def __init__(self, python: str, byte_code: str) -> None:
        """Start the python of an environment on the jobs, away from this tree."""
        kept = as_installed(byte_code).items()
        script = Path(__file__).with_name("version_jobs.py")
        self._process = subprocess.Popen(
            [python, "-P", str(script)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            cwd=Path(python).parent,
            env={key: value for key, value in kept if key != "PYTHONPATH"},
        )

    def seconds(self, job: str) -> float:
        """Return how long a job took [s].

        Raises
        ------
        RuntimeError
            If the version ended without an answer.
        """
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        answer = ""
        with contextlib.suppress(BrokenPipeError):
            self._process.stdin.write(f"{job}\n")
            self._process.stdin.flush()
            answer = self._process.stdout.readline()
        if not answer:
            raise RuntimeError(f"no answer from {self._process.args}: see its error above")
        return float(answer)

    def end(self) -> None:
        """Let the process come to its end."""
        with contextlib.suppress(BrokenPipeError):
            self._process.communicate()


def against(
    old: str, wanted: Mapping[str, int] = PAIRS, new: str = sys.executable
) -> dict[str, float]:
    """Return the time ratios of jobs to an older version, and today's seconds.

    Parameters
    ----------
    old : str
        The python of the environment that the older version is installed in.
    wanted : mapping of str to int
        The jobs, and how many pairs of each.
    new : str
        The python of today's version.
    """
    found: dict[str, float] = {}
    with tempfile.TemporaryDirectory() as byte_code:
        versions = Version(new, byte_code), Version(old, byte_code)
        try:
            for job, count in wanted.items():
                found.update(_pairs(versions, job, count))
        finally:
            for each in versions:
                each.end()
    return found


def _pairs(versions: tuple[Version, Version], job: str, count: int) -> dict[str, float]:
    """Return what pairs of a job gave; where it is done more than once, first once for nothing."""
    if count > 1:
        for each in versions:
            each.seconds(job)
    pairs = [tuple(each.seconds(job) for each in versions) for _ in range(count)]
    return {
        KEYS[job]: statistics.median(new / before for new, before in pairs),
        f"{job}_here_s": min(new for new, _ in pairs),
        f"{job}_old_s": min(before for _, before in pairs),
    }
