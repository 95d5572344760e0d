"""A bounded store of work, found by what it was made from; the longest unused goes first."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable, Iterator, MutableMapping
from dataclasses import fields, is_dataclass
from typing import Any, TypeVar

import numpy as np
import xarray as xr

T = TypeVar("T")

MOST_BYTES = 160_000_000
"""What is kept at most [byte]: a hundred circuits of a year in hours."""
_PLAIN_BYTES = 200


class KeptWork:
    """Work that is kept as long as there is room for it.

    Parameters
    ----------
    most_bytes : int
        Size of all that is kept [byte]. The newest piece is kept whatever its size.
    """

    def __init__(self, most_bytes: int = MOST_BYTES):
        self.most_bytes = most_bytes
        self.bytes = 0
        self.made = 0
        self._kept: OrderedDict[Hashable, tuple[Any, int]] = OrderedDict()

    def __call__(self, content: Hashable, make: Callable[[], T]) -> T:
        """Return what was made from the same content before, or make it.

        Parameters
        ----------
        content : hashable
            What it is and all that it depends on.
        make : callable
            Does the work. What it returns is shared and must not be changed.
        """
        if content in self._kept:
            return self.found(content)  # type: ignore[no-any-return]  # of what `make` gave before
        made = make()
        self.put(content, made)
        return made

    def found(self, content: Hashable) -> Any:
        """Return what is kept; it counts as used.

        Raises
        ------
        KeyError
            If nothing is kept of that content.
        """
        value, _ = self._kept[content]
        self._kept.move_to_end(content)
        return value

    def put(self, content: Hashable, value: object) -> None:
        """Keep a piece of work, and let go of the longest unused beyond the bound."""
        self.drop(content)
        size = size_of(value)
        self._kept[content] = value, size
        self.bytes += size
        self.made += 1
        while self.bytes > self.most_bytes and len(self._kept) > 1:
            self.drop(next(iter(self._kept)))

    def drop(self, content: Hashable) -> None:
        """Let go of a piece of work, if it is kept."""
        if content in self._kept:
            _, size = self._kept.pop(content)
            self.bytes -= size

    def __contains__(self, content: Hashable) -> bool:
        return content in self._kept

    def __iter__(self) -> Iterator[Hashable]:
        return iter(tuple(self._kept))

    def __len__(self) -> int:
        return len(self._kept)


class OfOneKind(MutableMapping[Hashable, Any]):
    """The pieces of one kind in a store, as a mapping.

    Parameters
    ----------
    kept : KeptWork
        The store.
    kind : str
        Tells these pieces from others of the same content.
    """

    def __init__(self, kept: KeptWork, kind: str):
        self._kept = kept
        self._kind = kind

    def __getitem__(self, content: Hashable) -> Any:
        return self._kept.found((self._kind, content))

    def __setitem__(self, content: Hashable, value: Any) -> None:
        self._kept.put((self._kind, content), value)

    def __delitem__(self, content: Hashable) -> None:
        self._kept.drop((self._kind, content))

    def __contains__(self, content: object) -> bool:
        return (self._kind, content) in self._kept

    def __iter__(self) -> Iterator[Hashable]:
        return (key[1] for key in self._kept if isinstance(key, tuple) and key[0] == self._kind)

    def __len__(self) -> int:
        return sum(1 for _ in self)


def size_of(value: object) -> int:
    """Return about how much memory the arrays in a piece of work take [byte]."""
    if isinstance(value, np.ndarray):
        return int(value.nbytes)
    if isinstance(value, xr.Dataset):
        return int(value.nbytes)
    if isinstance(value, tuple | list):
        return sum(size_of(each) for each in value)
    if is_dataclass(value) and not isinstance(value, type):
        return sum(size_of(getattr(value, each.name)) for each in fields(value))
    return _PLAIN_BYTES
