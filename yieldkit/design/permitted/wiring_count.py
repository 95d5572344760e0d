"""How many wirings there are over several inverters, counted without listing them.

Wirings of one input are a polynomial: a coefficient for every number of modules of each plane.
Choices for equal inputs, and for equal inverters, are sets with repetition: with p_j the polynomial
at the j-th power of its variables, k h_k = sum of p_j h_(k-j) for j from 1 to k (Newton's
identities for complete homogeneous symmetric polynomials).

References
----------
Macdonald (1995), Symmetric Functions and Hall Polynomials, 2nd ed., I.2, eq. 2.11 (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy import fft

from yieldkit.base.arrays import FloatArray, IntArray

MOST_STATES = 2_000_000
"""Most numbers of modules left that are counted over."""
_EXACT = 2.0**50
"""Numbers below this are whole numbers in floating point, whatever rounding does to them."""


def wiring_count(
    usages: Sequence[Sequence[IntArray]],
    inputs: Sequence[Sequence[int]],
    inverters: Sequence[int],
    modules: IntArray,
    leave_at_most: int,
) -> float | None:
    """Return how many wirings there are, equal inputs and equal inverters exchanged.

    Parameters
    ----------
    usages : sequence of sequence of ndarray
        For each kind of inverter and each class of its inputs, the modules of each plane that each
        arrangement takes (arrangement, plane).
    inputs : sequence of sequence of int
        How many inputs each class has.
    inverters : sequence of int
        How many inverters of each kind there are.
    modules : ndarray of int
        Modules to be wired of each plane (plane,).
    leave_at_most : int
        Modules that may stay unwired.

    Returns
    -------
    float or None
        A whole number below 2^50, else close to it; None where there are too many states to count.
        Equal planes count apart.
    """
    shape = tuple(int(each) + 1 for each in modules)
    if np.prod(shape, dtype=float) > MOST_STATES:
        return None
    parts = []
    for own, counts, number in zip(usages, inputs, inverters, strict=True):
        kind = _one(shape)
        for usage, several in zip(own, counts, strict=True):
            kind = _product(kind, _sets(_polynomial(usage, shape), several))
        parts.append(_sets(kind, number))
    total = parts[0]
    for part in parts[1:]:
        total = _product(total, part)
    left = np.indices(shape)[:, ...]
    rest = modules.reshape(-1, *[1] * len(shape)) - left
    found = float(total[rest.sum(axis=0) <= leave_at_most].sum())
    if not any(modules.tolist()) or leave_at_most >= int(modules.sum()):
        # The wiring with nothing at all is none.
        found -= 1.0
    return found


def _one(shape: tuple[int, ...]) -> FloatArray:
    found = np.zeros(shape)
    found[(0,) * len(shape)] = 1.0
    return found


def _polynomial(usage: IntArray, shape: tuple[int, ...]) -> FloatArray:
    """Return how many arrangements take each number of modules, an idle input included."""
    found = _one(shape)
    fits = (usage < np.array(shape)).all(axis=1)
    np.add.at(found, tuple(usage[fits].T), 1.0)
    return found


def _stretched(polynomial: FloatArray, power: int) -> FloatArray:
    """Return a polynomial at a power of its variables."""
    found = np.zeros_like(polynomial)
    whole = tuple(slice(None, None, power) for _ in polynomial.shape)
    part = tuple(slice(0, len(range(0, size, power))) for size in polynomial.shape)
    found[whole] = polynomial[part]
    return found


def _sets(polynomial: FloatArray, size: int) -> FloatArray:
    """Return the sets of so many choices, repetition allowed."""
    found = [_one(polynomial.shape)]
    for count in range(1, size + 1):
        terms = [
            _product(_stretched(polynomial, power), found[count - power])
            for power in range(1, count + 1)
        ]
        found.append(_whole(np.sum(terms, axis=0) / count))
    return found[size]


def _product(one: FloatArray, other: FloatArray) -> FloatArray:
    """Return the product of two polynomials, cut to the modules that there are."""
    few, many = sorted((one, other), key=np.count_nonzero)
    places = np.argwhere(few)
    if len(places) > 2_000:
        sizes = [fft.next_fast_len(2 * size - 1, real=True) for size in one.shape]
        product = fft.irfftn(fft.rfftn(one, sizes) * fft.rfftn(other, sizes), sizes)
        return _whole(product[tuple(slice(0, size) for size in one.shape)])
    found = np.zeros_like(one)
    for place in places:
        into = tuple(slice(at, None) for at in place)
        taken = tuple(slice(0, size - at) for at, size in zip(place, one.shape, strict=True))
        found[into] += few[tuple(place)] * many[taken]
    return found


def _whole(counts: FloatArray) -> FloatArray:
    return np.where(np.abs(counts) < _EXACT, np.round(counts), counts)
