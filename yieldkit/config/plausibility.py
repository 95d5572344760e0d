"""Datasheet values that can't be what their key says, and what they probably are."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from yieldkit.config.coefficients import parse_coefficient
from yieldkit.config.relations import Location, Place, entries, is_number
from yieldkit.words.errors import Problem

_CRYSTALLINE = ("mono-si", "poly-si")
# Usual spans per kelvin as shares: from the list of modules that pvlib bundles (5 to 95 %),
# widened; computed. Thin film reaches further.
_BETA_SPAN = (-0.0045, -0.0018)
_GAMMA_SPAN = (-0.0055, -0.0010)
_ALPHA_SPAN = (-0.0010, 0.0020)
_CELL_VOLTS = {"mono-si": (0.55, 0.80), "poly-si": (0.55, 0.70)}


def plausibility(content: Any, place: Place) -> list[Problem]:
    """Return the datasheet values of a site file that contradict one another or their unit.

    Parameters
    ----------
    content : dict
        The file's plain content, of any shape.
    place : callable
        From a location to the words "file line N, key".
    """
    problems: list[Problem] = []
    for location, module in entries(content, "module_types"):
        if module.get("source") != "datasheet":
            continue
        problems.extend(_points(location, module, place))
        problems.extend(_cells(location, module, place))
        problems.extend(_coefficients(location, module, place))
    return problems


def _points(location: Location, module: dict[str, Any], place: Place) -> Iterator[Problem]:
    keys = ("v_oc_v", "v_mp_v", "i_sc_a", "i_mp_a", "p_max_w")
    v_oc, v_mp, i_sc, i_mp, p_max = (module.get(key) for key in keys)
    if is_number(v_oc) and is_number(v_mp) and v_mp >= v_oc:
        yield Problem(
            place((*location, "v_mp_v")),
            f"Vmp {v_mp:g} V at or above Voc {v_oc:g} V",
            "Vmp below Voc",
            cause="The two swapped?",
        )
    if is_number(i_sc) and is_number(i_mp) and i_mp >= i_sc:
        yield Problem(
            place((*location, "i_mp_a")),
            f"Imp {i_mp:g} A at or above Isc {i_sc:g} A",
            "Imp below Isc",
            cause="The two swapped?",
        )
    if not (is_number(v_mp) and is_number(i_mp) and is_number(p_max)) or p_max <= 0:
        return
    product = v_mp * i_mp
    if abs(product / p_max - 1.0) > 0.01:
        at_800 = 0.68 <= product / p_max <= 0.82
        yield Problem(
            place((*location, "p_max_w")),
            f"Vmp x Imp = {product:.0f} W but p_max_w says {p_max:g} W",
            "the two within 1 %",
            cause="The NMOT/NOCT column (800 W/m2) copied?" if at_800 else "A swapped value?",
        )


def _cells(location: Location, module: dict[str, Any], place: Place) -> Iterator[Problem]:
    span = _CELL_VOLTS.get(str(module.get("technology")))
    cells, v_oc = module.get("cells_in_series"), module.get("v_oc_v")
    if span is None or not is_number(cells) or not is_number(v_oc) or cells < 1:
        return
    per_cell = v_oc / cells
    if span[0] <= per_cell <= span[1]:
        return
    half = span[0] <= 2.0 * per_cell <= span[1]
    yield Problem(
        place((*location, "cells_in_series")),
        f"{cells} cells with Voc {v_oc:g} V, which is {per_cell:.2f} V per cell",
        f"{span[0]:g} to {span[1]:g} V per cell",
        cause=f"Half-cut modules count cells in series: {cells // 2}?" if half else "",
    )


def _coefficients(location: Location, module: dict[str, Any], place: Place) -> Iterator[Problem]:
    crystalline = module.get("technology") in _CRYSTALLINE
    rows = (
        ("beta_voc", "V", module.get("v_oc_v"), _BETA_SPAN, "voltage falls with heat"),
        ("gamma_pmp", "W", module.get("p_max_w"), _GAMMA_SPAN, "power falls with heat"),
        ("alpha_sc", "A", module.get("i_sc_a"), _ALPHA_SPAN, ""),
    )
    for key, unit, stc, span, direction in rows:
        text = module.get(key)
        if not isinstance(text, str):
            if is_number(text):
                yield Problem(
                    place((*location, key)),
                    f"{text:g} without a unit",
                    f"text with its unit, such as '{text:g} %/K' or '{text:g} {unit}/K'",
                )
            continue
        try:
            value, share = parse_coefficient(text, unit)
        except ValueError as error:
            yield Problem(place((*location, key)), f"'{text}'", "a coefficient with its unit",
                          cause=str(error))
            continue
        if not is_number(stc) or stc <= 0:
            continue
        relative = value if share else value / stc
        problem = _judge(key, text, unit, stc, relative, span, direction, crystalline)
        if problem is not None:
            yield Problem(place((*location, key)), *problem)


def _judge(
    key: str,
    text: str,
    unit: str,
    stc: float,
    relative: float,
    span: tuple[float, float],
    direction: str,
    crystalline: bool,
) -> tuple[str, str, str, str] | None:
    """Return got, needed, cause and remedy where a coefficient is out of its span."""
    if direction and relative > 0.0:
        return (f"'{text}', which is positive", "a negative coefficient", f"The sign: {direction}",
                "Write it with a minus")
    low, high = span if crystalline else (3.0 * span[0], max(0.25 * span[1], 3.0 * span[1]))
    if low <= relative <= high:
        return None
    got = f"'{text}', which is {100.0 * relative:.2f} %/K of {stc:g} {unit}"
    needed = f"{100.0 * low:.2f} to {100.0 * high:.2f} %/K"
    number = float(text.split("%")[0].split(unit)[0].rstrip("mk ").replace(",", "."))
    candidates = (
        (number / 100.0, f"{number:g} %/K"),
        (number / stc, f"{number:g} {unit}/K"),
        (number / 1000.0 / stc, f"{number:g} m{unit}/K"),
    )
    for candidate, written in candidates:
        if low <= candidate <= high and abs(candidate - relative) > 1e-12:
            return got, needed, f"Did you mean {written}?", f"Write '{written}'"
    return got, needed, "", ""
