"""Tall pictures cut into strips where there is least ink, so that paper turns the page there."""

from __future__ import annotations

import io

import numpy as np
from matplotlib.image import imread, imsave

from yieldkit.base.arrays import FloatArray, IntArray

_WANDERS = 0.25
"""Share of a strip's height by which a cut may lie off an even one."""


def strips_of(png: bytes, most: int) -> list[bytes]:
    """Return a picture as strips that stand below one another without a gap.

    Parameters
    ----------
    png : bytes
        The picture as PNG.
    most : int
        Height that needs no cut [dots]; strips are at most a quarter higher.

    Returns
    -------
    list of bytes
        PNGs from the top; the picture itself where it is low enough.
    """
    drawn = imread(io.BytesIO(png), format="png")
    cuts = even_cuts(ink_by_row(drawn[..., :3]), most)
    if not cuts:
        return [png]
    return [_png(part) for part in np.split(drawn, cuts)]


def ink_by_row(drawn: FloatArray) -> IntArray:
    """Return how many dots of each row aren't white (row,)."""
    inked: IntArray = (drawn < 1.0).any(axis=-1).sum(axis=-1)
    return inked


def even_cuts(ink: IntArray, most: int) -> list[int]:
    """Return the rows at which strips begin, near even ones and where there is least ink.

    Parameters
    ----------
    ink : ndarray of int
        Ink of each row (row,).
    most : int
        Rows that need no cut.
    """
    pieces = -(-ink.size // most)
    high = ink.size / pieces
    cuts = []
    for number in range(1, pieces):
        start = round((number - _WANDERS / 2.0) * high)
        part = ink[start : round((number + _WANDERS / 2.0) * high)]
        cuts.append(start + _middle_of_least(part))
    return cuts


def _middle_of_least(ink: IntArray) -> int:
    """Return the middle of the longest run of rows with the least ink."""
    least = np.flatnonzero(ink == ink.min())
    runs = np.split(least, np.flatnonzero(np.diff(least) > 1) + 1)
    longest = max(runs, key=len)
    return int(longest[len(longest) // 2])


def _png(drawn: FloatArray) -> bytes:
    stream = io.BytesIO()
    imsave(stream, np.ascontiguousarray(drawn), format="png")
    return stream.getvalue()
