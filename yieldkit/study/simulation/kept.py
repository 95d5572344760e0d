"""Work that is kept for other runs, found again by what it was made from and never by its place."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from hashlib import blake2b
from typing import Protocol, TypeVar

from pydantic import BaseModel

T = TypeVar("T")


class Keep(Protocol):
    """Gives what was made from the same content before, or makes it."""

    def __call__(self, content: Callable[[], Hashable], make: Callable[[], T]) -> T:
        """Return a piece of work.

        Parameters
        ----------
        content : callable
            Tells all that the work depends on, and what it is.
        make : callable
            Does the work. What it returns is shared and must not be changed.
        """
        ...


def anew(content: Callable[[], Hashable], make: Callable[[], T]) -> T:
    """Do the work; nothing is kept."""
    return make()


def fingerprint(*parts: object) -> str:
    """Return a hash of models, buffers of arrays, and plain values.

    Parameters
    ----------
    parts : object
        What some work depends on: models and plain values as they are written down, and anything
        with a buffer by its bytes.
    """
    digest = blake2b(digest_size=16)
    for part in parts:
        if isinstance(part, BaseModel):
            data: bytes | memoryview = part.model_dump_json().encode()
        elif isinstance(part, str | int | float | bool | tuple | None):
            data = repr(part).encode()
        else:
            data = memoryview(part).cast("B")  # type: ignore[arg-type]  # else it raises
        digest.update(b"%d:" % len(data))
        digest.update(data)
    return digest.hexdigest()
