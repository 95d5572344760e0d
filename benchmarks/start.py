"""How long a person waits at the start: a first comparison, and what a new process costs.

Both run the command line in processes of their own. The first one compiles the solvers into an
empty folder and is counted in seconds of processor time, children included, so that other work on
the machine is not; the other is the least time of several runs of `simulate` by the command, less
the least of the same call in a process that has done it before. Python's own byte code is kept
between the processes, as an installation has it.
"""

import contextlib
import io
import os
import subprocess
import sys
import tempfile
from collections.abc import Mapping

from benchmarks.timing import as_installed, best_of
from yieldkit.cli.main import main

TIMES = 7


def command(words: list[str], surroundings: Mapping[str, str] = os.environ) -> None:
    """Run the command line in an environment and leave out what it says.

    Raises
    ------
    subprocess.CalledProcessError
        If it ends with an error.
    """
    subprocess.run(
        [sys.executable, "-m", "yieldkit", *words],
        env=dict(surroundings),
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        check=True,
    )


def cpu_seconds_of_children() -> float:
    """Return the processor time of all processes that were started and have ended [s]."""
    spent = os.times()
    return spent.children_user + spent.children_system


def run() -> dict[str, float]:
    """Return what the first comparison compiles for, and what a process adds to `simulate`."""
    with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()):
        warm = best_of(lambda: main(["simulate"]), TIMES)
    with tempfile.TemporaryDirectory() as byte_code, tempfile.TemporaryDirectory() as cache:
        surroundings = as_installed(byte_code)
        cold = best_of(lambda: command(["simulate"], surroundings), TIMES)
        before = cpu_seconds_of_children()
        command(["compare", "--no-report"], {**surroundings, "YIELDKIT_CACHE": cache})
        first = cpu_seconds_of_children() - before
    return {"first_compare_cold_cpu_s": first, "second_process_overhead_s": cold - warm}
