"""Slips: what may be otherwise than drawn, as variants of the drawn wiring."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import combinations
from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray
from yieldkit.config.site.site import Site, Wiring

AS_DRAWN = "as drawn"
NONE_OF_THESE = "none of these"
REVERSED, SWAPPED = "a string reversed", "two strings swapped"
MISREAD = "one reading is misread"
DRAWN_SHARE = 0.7
"""Prior probability that all is as drawn [1]; the rest goes equally over kinds of slips, then over
their members; common practice, no source."""
_MODULES = (-2, -1, 1, 2)
_AZIMUTHS, _TILTS = (-30.0, 30.0), (-15.0, 15.0)
_SOILED = (0.06, 0.12, 0.2)
_SENSORS = (-0.2, -0.1, 0.1, 0.2)
_CLOCKS = (-60.0, 60.0)


class Drawn(NamedTuple):
    """The drawn wiring as numbers.

    Parameters
    ----------
    strings : tuple of str
        Names of the strings.
    inputs : tuple of str
        The input of each.
    planes : tuple of str
        Names of the site's planes.
    modules : ndarray of float
        Modules of each string on each plane (string, plane).
    groups_per_module : ndarray of float
        Cell groups of a module (plane,).
    """

    strings: tuple[str, ...]
    inputs: tuple[str, ...]
    planes: tuple[str, ...]
    modules: FloatArray
    groups_per_module: FloatArray


class Slip(NamedTuple):
    """One way in which a plant may be otherwise than drawn; or as drawn.

    Parameters
    ----------
    kind : str
        What all members of its kind have in common, in words.
    words : str
        What it is, in words.
    groups : ndarray
        Cell groups in the circuit of what is read as each string (string, plane).
    sign : ndarray
        1, or -1 where plus and minus are reversed (string,).
    open : ndarray of bool
        Strings whose circuit is interrupted (string,).
    drawn_as : tuple of int
        Whose tilt and azimuth each plane really has (plane,).
    turned : tuple of (float, float)
        What each plane's azimuth and tilt really have in addition [deg] (plane,).
    light : ndarray
        Share of the light that each plane's dirt leaves [1] (plane,).
    sensor : float
        What the sensor reads over what there is [1].
    clock_min : float
        By how much the clock is ahead [min].
    doubt : int or None
        Which reading is worth nothing; -1 for all of them.
    """

    kind: str
    words: str
    groups: FloatArray
    sign: FloatArray
    open: FloatArray
    drawn_as: tuple[int, ...]
    turned: tuple[tuple[float, float], ...]
    light: FloatArray
    sensor: float = 1.0
    clock_min: float = 0.0
    doubt: int | None = None


def drawn_wiring(site: Site, wiring: Wiring, names: Sequence[str]) -> Drawn:
    """Return a wiring as numbers.

    Parameters
    ----------
    site : Site
        The site.
    wiring : Wiring
        The wiring.
    names : sequence of str
        What its strings are called, in the order of inputs.
    """
    planes = tuple(plane.name for plane in site.planes)
    types = {module.name: module.bypass_diodes for module in site.module_types}
    strings = [(own, string) for own in wiring.trackers for string in own.strings]
    modules = np.zeros((len(strings), len(planes)))
    for at, (_, string) in enumerate(strings):
        for group in string.groups:
            modules[at, planes.index(group.plane)] += group.modules
    per_module = np.array([float(types[plane.module_type]) for plane in site.planes])
    inputs = tuple(site.input_name(own) for own, _ in strings)
    return Drawn(tuple(names), inputs, planes, modules, per_module)


def all_slips(drawn: Drawn, readings: Sequence[str], with_sensor: bool = True) -> tuple[Slip, ...]:
    """Return everything that readings are held against, what was drawn first.

    Parameters
    ----------
    drawn : Drawn
        The wiring.
    readings : sequence of str
        What each reading is called, for the case that it is misread.
    with_sensor : bool
        Whether an irradiance sensor was read, which may be off.
    """
    base = _base(drawn)
    found = [base, *_lengths(drawn, base), *_circuits(drawn, base), *_swaps(drawn, base)]
    found += [*_orientations(drawn, base), *_light(drawn, base, with_sensor)]
    found += [
        base._replace(kind=MISREAD, words=f"{name} is misread", doubt=at)
        for at, name in enumerate(readings)
    ]
    found.append(base._replace(kind=NONE_OF_THESE, words=NONE_OF_THESE, doubt=-1))
    return tuple(found)


def priors(slips: Sequence[Slip]) -> FloatArray:
    """Return the prior probability of each slip [1] (slip,)."""
    members = Counter(own.kind for own in slips)
    kinds = len(members) - 1
    return np.array(
        [
            DRAWN_SHARE if own.kind == AS_DRAWN else (1.0 - DRAWN_SHARE) / kinds / members[own.kind]
            for own in slips
        ]
    )


def _base(drawn: Drawn) -> Slip:
    strings, planes = drawn.modules.shape
    return Slip(
        AS_DRAWN,
        AS_DRAWN,
        drawn.modules * drawn.groups_per_module,
        np.ones(strings),
        np.zeros(strings),
        tuple(range(planes)),
        ((0.0, 0.0),) * planes,
        np.ones(planes),
    )


def _lengths(drawn: Drawn, base: Slip) -> Iterator[Slip]:
    """Give strings with more or fewer modules, a module the wrong way round, a bypassed part."""
    for at, name in enumerate(drawn.strings):
        plane = int(np.argmax(drawn.modules[at]))
        whole = int(drawn.modules[at].sum())
        per_module = drawn.groups_per_module[plane]
        for more in _MODULES:
            if whole + more > 0:
                kind = "a module more or less" if abs(more) == 1 else "two modules more or less"
                words = f"{name} has {whole + more} modules, not {whole}"
                yield _other(base, kind, words, at, plane, more * per_module)
        if whole > 1:
            words = f"one module of {name} is connected the wrong way round"
            yield _other(base, "a module the wrong way round", words, at, plane, -2 * per_module)
        words = f"one substring of a module of {name} is bypassed"
        yield _other(base, "a substring bypassed", words, at, plane, -1.0)


def _other(base: Slip, kind: str, words: str, at: int, plane: int, more: float) -> Slip:
    groups = base.groups.copy()
    groups[at, plane] += more
    return base._replace(kind=kind, words=words, groups=groups)


def _circuits(drawn: Drawn, base: Slip) -> Iterator[Slip]:
    for at, name in enumerate(drawn.strings):
        cut, sign = base.open.copy(), base.sign.copy()
        cut[at], sign[at] = 1.0, -1.0
        yield base._replace(kind="a string open", words=f"{name} is interrupted", open=cut)
        yield base._replace(
            kind=REVERSED, words=f"plus and minus of {name} are reversed", sign=sign
        )


def _swaps(drawn: Drawn, base: Slip) -> Iterator[Slip]:
    for one, other in combinations(range(len(drawn.strings)), 2):
        groups = base.groups.copy()
        groups[[one, other]] = groups[[other, one]]
        words = f"{drawn.strings[one]} and {drawn.strings[other]} are swapped"
        yield base._replace(kind=SWAPPED, words=words, groups=groups)


def _orientations(drawn: Drawn, base: Slip) -> Iterator[Slip]:
    planes = range(len(drawn.planes))
    for one, other in combinations(planes, 2):
        lies = list(planes)
        lies[one], lies[other] = other, one
        words = (
            f"tilt and azimuth of {drawn.planes[one]} and {drawn.planes[other]} are interchanged"
        )
        yield base._replace(kind="planes interchanged", words=words, drawn_as=tuple(lies))
    for kind, values, place in (("azimuth off", _AZIMUTHS, 0), ("tilt off", _TILTS, 1)):
        for plane in planes:
            for value in values:
                turned = [list(own) for own in base.turned]
                turned[plane][place] = value
                words = f"{kind.split()[0]} of {drawn.planes[plane]} is {value:+g} degrees off"
                exact = tuple((own[0], own[1]) for own in turned)
                yield base._replace(kind=kind, words=words, turned=exact)


def _light(drawn: Drawn, base: Slip, with_sensor: bool) -> Iterator[Slip]:
    planes = len(drawn.planes)
    everywhere = "all planes" if planes > 1 else drawn.planes[0]
    parts = [(everywhere, np.ones(planes))]
    if planes > 1:
        parts += list(zip(drawn.planes, np.eye(planes), strict=True))
    for where, share in parts:
        for lost in _SOILED:
            words = f"{where}: dirt or a film takes {100 * lost:g} % of the light"
            yield base._replace(kind="soiling", words=words, light=1.0 - lost * share)
    for off in _SENSORS if with_sensor else ():
        words = f"the irradiance sensor reads {100 * off:+g} %"
        yield base._replace(kind="the sensor off", words=words, sensor=1.0 + off)
    for ahead in _CLOCKS:
        words = f"the clock is {abs(ahead):g} minutes {'fast' if ahead > 0 else 'slow'}"
        yield base._replace(kind="the clock off", words=words, clock_min=ahead)
