"""The two decorators for compiled functions, and who is told that something is being compiled.

Most kernels are handed the arrays that they work on. Counting who holds an array, which numba does
at every slice and every call, took them a third of their time, so that these only borrow arrays;
one that makes arrays or returns them has to count, and so has whatever calls it.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import Any, cast

import numba
from numba.core.event import Event, Listener, register

from yieldkit.base.compiling import begins_compiling
from yieldkit.physics.inside_code import CompilerForInside, CompilerForPython
from yieldkit.physics.kept_code import keep


class _Compilation(Listener):
    """Says that a solver of ours is being compiled; one that comes from the cache is none."""

    def on_start(self, event: Event) -> None:
        """Say it."""
        solver = event.data["dispatcher"]
        if solver.__module__.startswith(f"{__name__.split('.')[0]}."):
            begins_compiling(bool(solver.stats.cache_path))

    def on_end(self, event: Event) -> None:
        """Say nothing: what follows speaks for itself."""


register("numba:compile", _Compilation())


def compiled(function: Callable[..., Any]) -> Callable[..., Any]:
    """Compile a function on its first call, without the GIL, and keep the result on disk.

    It borrows the arrays that it is handed: it neither makes nor returns any, and calls no function
    that does.

    Parameters
    ----------
    function : callable
        A function of scalars and numpy arrays that numba can compile.

    Returns
    -------
    callable
        The same function; nothing is compiled before it is called. The first call raises a
        TypeError if it returns an array or calls a function that may make one, and numba's own
        error if it makes one.
    """
    return _compiled(function, False)


def compiled_owning(function: Callable[..., Any]) -> Callable[..., Any]:
    """Compile a function as `compiled`, one that makes or returns arrays or calls one that does.

    Parameters
    ----------
    function : callable
        A function of scalars and numpy arrays that numba can compile.

    Returns
    -------
    callable
        The same function; nothing is compiled before it is called.
    """
    return _compiled(function, True)


def _compiled(function: Callable[..., Any], owning: bool) -> Callable[..., Any]:
    """Return a function for Python, with one of the same code for what else is compiled.

    Only what Python calls is made machine code, with an entrance from there and none from C: that
    takes half of the time of making both for every function.
    """
    njit: Any = numba.njit  # its types name the usual options only
    options: dict[str, Any] = {"nogil": True, "error_model": "numpy", "_nrt": owning}
    options["no_cfunc_wrapper"] = True

    @cache
    def inside() -> Any:
        made = njit(**options, no_cpython_wrapper=True, pipeline_class=CompilerForInside)
        return keep(made(function), inside=True)

    for_python: Any = keep(njit(**options, pipeline_class=CompilerForPython)(function))
    # What is compiled asks these two of the functions that it calls.
    for_python.get_call_template = lambda *given: inside().get_call_template(*given)
    for_python.get_overload = lambda signature: inside().get_overload(signature)
    return cast(Callable[..., Any], for_python)
