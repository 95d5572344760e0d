"""Datasheet values that can't be what their key says, and what they probably are."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from yieldkit.base.errors import Problem
from yieldkit.config.models.coefficients import number_and_unit, parse_coefficient
from yieldkit.config.reading.content import Content, Location
from yieldkit.config.reading.parts import entries, number
from yieldkit.config.reading.wording import is_number, shown

_CRYSTALLINE = ("mono-si", "poly-si")
# Relative coefficients [1/K]: 0.5 to 99.5 % of the bundled list of modules by technology,
# widened by about a tenth (computed).
_SPANS = {
    "crystalline": {
        "beta_voc": (-0.0048, -0.0020),
        "gamma_pmp": (-0.0064, -0.0020),
        "alpha_sc": (-0.0006, 0.0020),
    },
    "thin film": {
        "beta_voc": (-0.0057, -0.0015),
        "gamma_pmp": (-0.0060, -0.0010),
        "alpha_sc": (-0.0010, 0.0022),
    },
}
_CELL_VOLTS = {"mono-si": (0.55, 0.80), "poly-si": (0.55, 0.70)}
_FILL = (0.45, 0.90)
_EFFICIENCY = (0.04, 0.30)
_NAMEPLATE_REAR = 0.135
"""Rear over front irradiance of the bifacial nameplate, IEC 61215-1:2021; from memory."""
_DIRECTION = {"beta_voc": "voltage falls with heat", "gamma_pmp": "power falls with heat"}


def plausibility(content: Content) -> list[Problem]:
    """Return the datasheet values of a site file that contradict one another or their unit.

    Parameters
    ----------
    content : Content
        The file's content, of any shape.
    """
    problems: list[Problem] = []
    for at, module in entries(content.values, "module_types"):
        problems.extend(_size(content, at, module))
        if module.get("source") != "datasheet":
            continue
        problems.extend(_points(content, at, module))
        problems.extend(_cells(content, at, module))
        problems.extend(_further(content, at, module))
        for key, unit, stc in (
            ("beta_voc", "V", "v_oc_v"),
            ("gamma_pmp", "W", "p_max_w"),
            ("alpha_sc", "A", "i_sc_a"),
        ):
            problems.extend(_coefficient(content, (*at, key), module, unit, number(module, stc)))
    return problems


def _points(content: Content, at: Location, module: dict[str, Any]) -> Iterator[Problem]:
    keys = ("v_oc_v", "v_mp_v", "i_sc_a", "i_mp_a", "p_max_w")
    v_oc, v_mp, i_sc, i_mp, p_max = (number(module, key) for key in keys)
    swapped = False
    if v_oc is not None and v_mp is not None and v_mp >= v_oc:
        swapped = True
        yield Problem(
            content.where((*at, "v_mp_v")),
            f"Vmp {v_mp:g} V at or above Voc {v_oc:g} V",
            "Vmp below Voc",
            cause="The two swapped?",
        )
    if i_sc is not None and i_mp is not None and i_mp >= i_sc:
        swapped = True
        yield Problem(
            content.where((*at, "i_mp_a")),
            f"Imp {i_mp:g} A at or above Isc {i_sc:g} A",
            "Imp below Isc",
            cause="The two swapped?",
        )
    if p_max is None or p_max <= 0.0:
        return
    if v_mp is not None and i_mp is not None and abs(v_mp * i_mp / p_max - 1.0) > 0.01:
        yield _product(content.where((*at, "p_max_w")), v_mp * i_mp, p_max, swapped)
    elif v_oc is not None and i_sc is not None and not swapped and v_oc * i_sc > 0.0:
        fill = p_max / (v_oc * i_sc)
        if not _FILL[0] <= fill <= _FILL[1]:
            yield Problem(
                content.where((*at, "p_max_w")),
                f"a fill factor Pmax / (Voc x Isc) of {fill:.2f}",
                f"{_FILL[0]:g} to {_FILL[1]:g}",
                cause="Values of different columns or modules?",
            )


def _product(where: str, product: float, p_max: float, swapped: bool) -> Problem:
    ratio = product / p_max
    cause = "A swapped value?"
    if not swapped and 0.68 <= ratio <= 0.82:
        cause = "Vmp and Imp from the NMOT or NOCT column (800 W/m2)?"
    elif not swapped and 1.22 <= ratio <= 1.47:
        cause = "Pmax from the NMOT or NOCT column (800 W/m2)?"
    elif 990.0 <= ratio <= 1010.0:
        cause = "Pmax in kilowatts?"
    return Problem(
        where,
        f"Vmp x Imp = {product:.0f} W but p_max_w says {p_max:g} W",
        "the two within 1 %",
        cause=cause,
        remedy="Take all five values from the column for standard test conditions",
    )


def _cells(content: Content, at: Location, module: dict[str, Any]) -> Iterator[Problem]:
    span = _CELL_VOLTS.get(str(module.get("technology")))
    cells, v_oc = module.get("cells_in_series"), number(module, "v_oc_v")
    if span is None or not is_number(cells) or v_oc is None or cells < 1:
        return
    per_cell = v_oc / cells
    if span[0] <= per_cell <= span[1]:
        return
    half = span[0] <= 2.0 * per_cell <= span[1]
    low, high = v_oc / span[1], v_oc / span[0]
    yield Problem(
        content.where((*at, "cells_in_series")),
        f"{shown(cells)} cells with Voc {v_oc:g} V, which is {per_cell:.2f} V per cell",
        f"{span[0]:g} to {span[1]:g} V per cell of {shown(module['technology'])[1:-1]}",
        cause=f"Half-cut modules count cells in series: {cells / 2:g}?" if half else "",
        remedy="" if half else f"This voltage is that of {low:.0f} to {high:.0f} cells",
    )


def _further(content: Content, at: Location, module: dict[str, Any]) -> Iterator[Problem]:
    low_light = number(module, "relative_efficiency_200")
    if low_light is not None and low_light > 0.0 and not 0.85 <= low_light <= 1.03:
        yield Problem(
            content.where((*at, "relative_efficiency_200")),
            f"{low_light:g}",
            "0.85 to 1.03, efficiency at 200 W/m2 over that at STC",
            cause="In percent?" if 80.0 <= low_light <= 110.0 else "The efficiency itself?",
        )
    yield from _bifacial(content, at, module)
    noct = number(module, "noct_c")
    if noct is not None and not 30.0 <= noct <= 70.0:
        yield Problem(content.where((*at, "noct_c")), f"{noct:g} degC", "30 to 70 degC")
    span = module.get("power_tolerance_percent")
    if isinstance(span, tuple) and len(span) == 2 and all(map(is_number, span)):
        first, last = span
        if first > last:
            yield Problem(
                content.where((*at, "power_tolerance_percent")),
                f"{first:g} to {last:g} %",
                "the lowest deviation first",
                remedy=f"Write [{last:g}, {first:g}]",
            )
    p_max = number(module, "p_max_w")
    for point_at, point in entries(module, "power_matrix"):
        stc = (number(point, "irradiance_w_m2"), number(point, "temp_cell_c")) == (1000.0, 25.0)
        power = number(point, "power_w")
        if stc and power and p_max and abs(power / p_max - 1.0) > 0.03:
            yield Problem(
                content.where((*at, *point_at, "power_w")),
                f"{power:g} W at 1000 W/m2 and 25 degC, but p_max_w {p_max:g} W",
                "the two within 3 %",
                cause="The matrix of another module?",
            )


def _bifacial(content: Content, at: Location, module: dict[str, Any]) -> Iterator[Problem]:
    """Compare the current with light from behind with what the front and the rear can give."""
    both, front = number(module, "i_sc_bnpi_a"), number(module, "i_sc_a")
    if both is None or front is None or front <= 0.0:
        return
    if not 1.0 <= both / front <= 1.0 + _NAMEPLATE_REAR:
        yield Problem(
            content.where((*at, "i_sc_bnpi_a")),
            f"{both:g} A with light from behind, {front:g} A without",
            f"{front:g} to {front * (1.0 + _NAMEPLATE_REAR):.2f} A: 135 W/m2 from behind add at "
            "most 13.5 %",
            cause="A current at another irradiance from behind?",
        )


def _size(content: Content, at: Location, module: dict[str, Any]) -> Iterator[Problem]:
    length, width = number(module, "length_m"), number(module, "width_m")
    for key, value in (("length_m", length), ("width_m", width)):
        if value is not None and value > 5.0:
            yield Problem(
                content.where((*at, key)),
                f"{value:g} m",
                "up to 5 m",
                cause="In millimetres?" if value >= 300.0 else "In centimetres?",
                remedy=f"Write {value / (1000.0 if value >= 300.0 else 100.0):g}",
            )
    if length and width and 0.0 < length < width <= 5.0:
        yield Problem(
            content.where((*at, "length_m")),
            f"length_m {length:g} below width_m {width:g}",
            "the longer side in length_m, the shorter one in width_m",
            cause="Are the two swapped?",
            remedy="How modules lie on a plane says its layout: portrait or landscape",
        )
    p_max = number(module, "p_max_w")
    if not length or not width or not p_max or min(length, width) <= 0 or max(length, width) > 5.0:
        return
    efficiency = p_max / (1000.0 * length * width)
    if not _EFFICIENCY[0] <= efficiency <= _EFFICIENCY[1]:
        yield Problem(
            content.where((*at, "length_m")),
            f"{p_max:g} W on {length:g} m by {width:g} m, an efficiency of {efficiency:.2f}",
            f"{_EFFICIENCY[0]:g} to {_EFFICIENCY[1]:g}",
            cause="The size of another module?",
        )


def _coefficient(
    content: Content, at: Location, module: dict[str, Any], unit: str, stc: float | None
) -> Iterator[Problem]:
    key = str(at[-1])
    text, where = module.get(key), content.where(at)
    if not isinstance(text, str):
        return
    try:
        value, share = parse_coefficient(text, unit)
    except ValueError as error:
        yield Problem(
            where,
            f"{shown(text)}: {error}",
            f"a number with %/K or {unit}/K",
            remedy=f"Write it like '{_example(key)}'",
        )
        return
    if stc is None or stc <= 0.0:
        return
    kind = "crystalline" if module.get("technology") in _CRYSTALLINE else "thin film"
    relative = value if share else value / stc
    problem = _judged(key, text, unit, stc, relative, kind)
    if problem is not None:
        yield Problem(where, *problem)


def _example(key: str) -> str:
    return {"beta_voc": "-0.28 %/K", "gamma_pmp": "-0.35 %/K"}.get(key, "0.05 %/K")


def _judged(
    key: str, text: str, unit: str, stc: float, relative: float, kind: str
) -> tuple[str, str, str, str] | None:
    """Return got, needed, cause and remedy where a coefficient is out of its span."""
    low, high = _SPANS[kind][key]
    if low <= relative <= high:
        return None
    written, _ = number_and_unit(text)
    direction = _DIRECTION.get(key, "")
    if direction and relative > 0.0 and low <= -relative <= high:
        return (
            f"{shown(text)}, which is positive",
            "a negative coefficient",
            f"The sign: {direction}",
            "Write it with a minus",
        )
    got = f"{shown(text)}, which is {100.0 * relative:.2f} %/K of {stc:g} {unit}"
    needed = f"{100.0 * low:.2f} to {100.0 * high:.2f} %/K for {kind} modules"
    for scale, name in ((0.01, "%"), (1.0 / stc, unit), (0.001 / stc, f"m{unit}")):
        if low <= written * scale <= high:
            meant = f"{written:g} {name}/K"
            return got, needed, f"Did you mean {meant}?", f"Write '{meant}'"
    if direction and relative > 0.0:
        return got, needed, f"The sign: {direction}", ""
    return got, needed, "", ""
