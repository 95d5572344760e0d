"""A process of its own for one command, which doesn't load what the command has no use for."""

from __future__ import annotations

import atexit
import os
import sys
import threading
from collections.abc import Sequence
from importlib.abc import MetaPathFinder
from importlib.machinery import ModuleSpec, PathFinder
from importlib.util import LazyLoader
from types import ModuleType

from yieldkit.cli.main import main

_HANDS_OUT_WORK = "sweep"
"""The command that computes on a cluster."""
_SELDOM_USED = frozenset(
    {
        "asyncio",
        "cloudpickle",
        "h5py",
        "numba.experimental",
        "numpy.f2py",
        "numpy.testing",
        "pandas.api.typing",
        "pvlib.bifacial",
        "pvlib.clearsky",
        "pvlib.iotools",
        "pvlib.ivtools.sdm",
        "pvlib.location",
        "pvlib.modelchain",
        "pvlib.scaling",
        "pvlib.spectrum",
        "scipy.linalg._decomp_interpolative",
        "scipy.spatial.transform",
        "xarray.groupers",
        "xarray.tutorial",
        "xarray.ufuncs",
        "yaml",
    }
)
"""Parts of libraries that others load, whether they are used or not: a seventh of a second."""


def run() -> int:
    """Run the command that this process was started for, and end the process.

    Every dataset asks whether its arrays are those of the cluster's library, for which xarray
    loads that library wherever it is installed: a sixth of a second. Without a cluster there are
    no such arrays, and xarray is told that it isn't there.

    Linear algebra gets one thread, unless somebody asks for more (OPENBLAS_NUM_THREADS): numpy and
    scipy would each start one for every core and let them wait, a fifth of a second of processor
    time, for matrices that are too small to be shared out.

    Returns
    -------
    int
        The exit code, where something still runs or looks on and the process has to end by itself.
    """
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    if _HANDS_OUT_WORK not in sys.argv:
        sys.modules.setdefault("dask", None)  # type: ignore[arg-type]  # the sign of "not there"
        sys.meta_path.insert(0, _LoadedWhenUsed())
    code = main()
    _end(code)
    return code


class _LoadedWhenUsed(MetaPathFinder):
    """Finds what is seldom used, for a loader that waits until somebody asks for its content.

    Without threads of a cluster: the loader doesn't keep two of them apart in older Pythons.
    """

    def find_spec(
        self, fullname: str, path: Sequence[str] | None, target: ModuleType | None = None
    ) -> ModuleSpec | None:
        """Return how to load a module, or None for the finders that follow."""
        if fullname not in _SELDOM_USED:
            return None
        found = PathFinder.find_spec(fullname, path, target)
        if found is not None and found.loader is not None:
            found.loader = LazyLoader(found.loader)
        return found


def _end(code: int) -> None:
    """End the process without taking apart what goes with it anyway: a tenth of a second.

    What has to be done at the end is done, and whatever was said is handed over. Where another
    thread still runs, or a debugger or profiler looks on, nothing is ended here.
    """
    if threading.active_count() > 1 or sys.gettrace() or sys.getprofile():
        return
    atexit._run_exitfuncs()
    try:
        sys.stdout.flush()
        sys.stderr.flush()
    except OSError:
        return  # Python tells of it in its own way
    os._exit(code)
