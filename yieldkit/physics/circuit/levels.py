"""Lights of many cell groups merged step by step into levels, and strings counted in them.

Lights that differ by less than a tolerance become one level at their mean. What a string delivers
at its maximum changes with the square of such differences, or where the darkest group limits it,
with their share in the tolerance; so merging costs next to nothing, and saves most of the solving.
Equal lights stay what they are, to the last digit.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray, IntArray
from yieldkit.physics.compiled import compiled

LIGHT_TOLERANCE = 0.004
"""Widest span of the lights of a level, as a share of its darkest [1]."""
HALVES_TOLERANCE = 0.1
"""How far apart, as a share of the darker, two halves in parallel are taken as lit alike [1].

At any voltage they deliver what two at their mean do, but for what series resistance changes."""
WARMTH_TOLERANCE = 0.08
"""Widest span of a level's shares of warmth [1]: with 30 K above the air it is 2.4 K."""
_DARK = 1e-3
"""Lights are told apart from here on [W/m2]."""
# Keys by which groups are put in order.
_KEYS = 3


class Levels(NamedTuple):
    """Levels of the lights of some cell groups, the whole groups' of a step before the halved.

    Parameters
    ----------
    first : ndarray of int
        Position of each step's first level, and the end (step + 1,).
    light, other : ndarray
        Light of its groups, or of their darker halves and of the brighter ones [W/m2] (level,).
    warmth : ndarray
        Mean of its groups' shares of warmth [1] (level,).
    level_of : ndarray of int
        Level of each group among those of its step (step, group).
    """

    first: IntArray
    light: FloatArray
    other: FloatArray
    warmth: FloatArray
    level_of: IntArray


def merged_levels(
    light: FloatArray,
    warmth: FloatArray,
    tolerance: float = LIGHT_TOLERANCE,
    warmth_tolerance: float = WARMTH_TOLERANCE,
    halves_tolerance: float = HALVES_TOLERANCE,
) -> Levels:
    """Merge the lights of cell groups into levels, step by step.

    Parameters
    ----------
    light : ndarray
        Light of each group's halves [W/m2] (step, group, half); one half for whole groups. A
        missing one makes its step one level that is missing.
    warmth : ndarray
        How far each group is warmed above the air, as a share of the unshaded [1] (step, group).
    tolerance : float
        Widest span of a level's lights, as a share of its darkest [1]; with 0 only equal ones are
        merged.
    warmth_tolerance : float
        Widest span of its shares of warmth [1].
    halves_tolerance : float
        How much more light a group's brighter half may have, as a share of the darker one's [1], to
        take both at their mean.
    """
    steps, groups = warmth.shape
    keys = np.empty((steps, groups, _KEYS))
    keys[..., 0] = light.min(axis=2)
    keys[..., 1] = light.max(axis=2)
    keys[..., 2] = warmth
    number = np.zeros(steps, dtype=np.int64)
    level_of = np.zeros((steps, groups), dtype=np.int32)
    means = np.empty((steps * groups, _KEYS))
    order = np.arange(groups)
    tolerances = np.array([tolerance, tolerance, warmth_tolerance, halves_tolerance])
    end = fill_levels(keys, tolerances, order, number, level_of, means)
    first = np.concatenate([[0], np.cumsum(number)])
    one, two, share = (np.ascontiguousarray(means[:end, key]) for key in range(_KEYS))
    return Levels(first, one, two, share, level_of)


@compiled
def fill_levels(keys, tolerances, order, number, level_of, means):
    """Fill the levels of all steps.

    Parameters
    ----------
    keys : ndarray
        Darker and brighter half's light [W/m2] and share of warmth [1] (step, group, 3).
    tolerances : ndarray
        Widest span of each key: of lights as a share, of warmth as it is [1]; and that of the two
        halves of a group as a share (4,).
    order : ndarray of int
        Groups in the order of the last step; updated (group,).
    number : ndarray of int
        Filled with the number of levels (step,).
    level_of : ndarray of int
        Filled with each group's level among those of its step (step, group).
    means : ndarray
        Filled with the keys' means, level after level [W/m2, W/m2, 1] (step times group, 3).

    Returns
    -------
    int
        Number of all levels.
    """
    end = 0
    for t in range(keys.shape[0]):
        step = keys[t]
        join_halves(step, tolerances[3])
        begin = end
        if is_missing(step):
            for group in range(step.shape[0]):
                level_of[t, group] = 0
            for key in range(_KEYS):
                means[end, key] = np.nan
            end += 1
        else:
            sort_by(step, 0, True, order, 0, step.shape[0])
            end = split_by_light(step, tolerances, order, level_of[t], means, begin)
        number[t] = end - begin
    return end


@compiled
def join_halves(step, tolerance):
    """Give halves that are lit alike the same light, their mean.

    Parameters
    ----------
    step : ndarray
        Keys of a step's groups [W/m2, W/m2, 1] (group, 3); updated.
    tolerance : float
        Widest span as a share of the darker [1].
    """
    for group in range(step.shape[0]):
        one, two = step[group, 0], step[group, 1]
        if two - one <= max(tolerance * one, _DARK):
            step[group, 0] = one + 0.5 * (two - one)
            step[group, 1] = step[group, 0]


@compiled
def is_missing(step):
    """Return whether any group's light or warmth is missing.

    Parameters
    ----------
    step : ndarray
        Keys of a step's groups [W/m2, W/m2, 1] (group, 3).

    Returns
    -------
    bool
    """
    missing = 0
    for group in range(step.shape[0]):
        for key in range(_KEYS):
            missing += 1 if step[group, key] != step[group, key] else 0
    return missing > 0


@compiled
def comes_before(step, one, other, key, whole_first):
    """Return whether a group comes before another.

    Parameters
    ----------
    step : ndarray
        Keys of a step's groups [W/m2, W/m2, 1] (group, 3).
    one, other : int
        The groups.
    key : int
        The key they are sorted by.
    whole_first : bool
        Whether groups whose halves are lit alike come first.

    Returns
    -------
    bool
    """
    if whole_first:
        halved, other_halved = step[one, 0] != step[one, 1], step[other, 0] != step[other, 1]
        if halved != other_halved:
            return other_halved
    return step[one, key] < step[other, key]


@compiled
def sort_by(step, key, whole_first, order, begin, end):
    """Sort a part of the order by a key; quick where it is nearly in order.

    Parameters
    ----------
    step, key, whole_first
        As for `comes_before`.
    order : ndarray of int
        The groups in their order (group,); updated.
    begin, end : int
        The part to sort.
    """
    for place in range(begin + 1, end):
        group = order[place]
        at = place
        while at > begin and comes_before(step, group, order[at - 1], key, whole_first):
            order[at] = order[at - 1]
            at -= 1
        order[at] = group


@compiled
def span_end(step, key, tolerance, order, begin, end):
    """Return the end of the groups that lie within a tolerance of the first.

    Parameters
    ----------
    step : ndarray
        Keys of a step's groups [W/m2, W/m2, 1] (group, 3).
    key : int
        The key they are sorted by.
    tolerance : float
        Widest span: of lights as a share, of warmth as it is [1].
    order : ndarray of int
        The groups in their order (group,).
    begin, end : int
        The part that is looked at.

    Returns
    -------
    int
    """
    least = step[order[begin], key]
    most = least + (tolerance if key == _KEYS - 1 else max(tolerance * least, _DARK * tolerance))
    halved = step[order[begin], 0] != step[order[begin], 1]
    at = begin + 1
    while at < end and step[order[at], key] <= most:
        if (step[order[at], 0] != step[order[at], 1]) != halved:
            break
        at += 1
    return at


@compiled
def split_by_light(step, tolerances, order, level_of, means, end):
    """Cut a sorted step into levels: by the darker half, by the brighter, and by warmth.

    Parameters
    ----------
    step : ndarray
        Keys of a step's groups [W/m2, W/m2, 1] (group, 3).
    tolerances, order, means
        As for `fill_levels`.
    level_of : ndarray of int
        Filled with each group's level among those of the step (group,).
    end : int
        Number of levels before this step.

    Returns
    -------
    int
        Number of levels behind it.
    """
    begin, groups = end, step.shape[0]
    one = 0
    while one < groups:
        one_end = span_end(step, 0, tolerances[0], order, one, groups)
        sort_by(step, 1, False, order, one, one_end)
        two = one
        while two < one_end:
            two_end = span_end(step, 1, tolerances[1], order, two, one_end)
            sort_by(step, 2, False, order, two, two_end)
            three = two
            while three < two_end:
                three_end = span_end(step, 2, tolerances[2], order, three, two_end)
                fill_means(step, order, three, three_end, means[end])
                for place in range(three, three_end):
                    level_of[order[place]] = end - begin
                end += 1
                three = three_end
            two = two_end
        one = one_end
    return end


@compiled
def fill_means(step, order, begin, end, means):
    """Fill the means of a level's keys; of equal ones it is what they are.

    Parameters
    ----------
    step : ndarray
        Keys of a step's groups [W/m2, W/m2, 1] (group, 3).
    order : ndarray of int
        The groups in their order (group,).
    begin, end : int
        The level's groups.
    means : ndarray
        Filled [W/m2, W/m2, 1] (3,).
    """
    for key in range(_KEYS):
        base = step[order[begin], key]
        more = 0.0
        for place in range(begin, end):
            more += step[order[place], key] - base
        means[key] = base + more / (end - begin)
