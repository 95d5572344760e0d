"""Solvers that borrow arrays, and what they may not do, for nobody counts who holds the arrays."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any, cast

from numba.core import types


def refuse_uncounted(function: Callable[..., Any], made: Any) -> None:
    """Refuse a function that borrows and gives away arrays, or takes them from one that counts.

    Parameters
    ----------
    function : callable
        The function as it is written.
    made : CompileResult
        What numba made of it.

    Raises
    ------
    TypeError
        If it returns an array, or calls a function that may make one.
    """
    if made.target_context.enable_nrt:
        return
    name = f"{function.__module__}.{function.__name__}"
    if _has_arrays(made.signature.return_type):
        raise TypeError(f"{name} borrows its arrays and returns one: make it compiled_owning")
    for called in function.__code__.co_names:
        options = getattr(function.__globals__.get(called), "targetoptions", {})
        if options.get("_nrt"):
            raise TypeError(
                f"{name} borrows its arrays and calls {called}, which owns some: "
                "make it compiled_owning"
            )


def _has_arrays(kind: Any) -> bool:
    if isinstance(kind, types.BaseTuple):
        return any(_has_arrays(part) for part in cast(Iterable[Any], kind))
    return isinstance(kind, types.Array)
