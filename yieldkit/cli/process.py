"""A process of its own for one command, which doesn't load what the command has no use for."""

from __future__ import annotations

import gc
import sys

from yieldkit.cli.main import main

_HANDS_OUT_WORK = "sweep"
"""The command that computes on a cluster."""


def run() -> int:
    """Run the command that this process was started for, and return its exit code.

    Every dataset asks whether its arrays are those of the cluster's library, for which xarray
    loads that library wherever it is installed: a sixth of a second. Without a cluster there are
    no such arrays, and xarray is told that it isn't there.
    """
    if _HANDS_OUT_WORK not in sys.argv:
        sys.modules.setdefault("dask", None)  # type: ignore[arg-type]  # the sign of "not there"
    code = main()
    gc.freeze()  # what is left goes with the process; nobody need look for waste among it
    return code
