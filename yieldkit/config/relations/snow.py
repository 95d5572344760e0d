"""Snow: what its models need to know of planes and of the weather."""

from __future__ import annotations

from calendar import month_name
from collections.abc import Iterator
from typing import Any

from yieldkit.base.errors import Problem
from yieldkit.config.reading.content import Content
from yieldkit.config.reading.parts import entries, part
from yieldkit.config.reading.wording import is_number, shown

_TABLES = ("csv", "parquet")
_DEEP_CM = 2.5
"""Snow of the days that are counted (Townsend and Powers 2011: an inch)."""


def snow_relations(content: Content) -> Iterator[Problem]:
    """Give the problems of snow on a site's planes.

    Parameters
    ----------
    content : Content
        The file's content, of any shape.
    """
    kind = part(content.values, "site", "snow", "kind")
    if kind not in ("by-month", "from-snowfall"):
        return
    yield from _months(content)
    for at, plane in entries(content.values, "planes"):
        lacking = _lacking(content, plane)
        if not lacking or (kind == "by-month" and plane.get("slant_height_m") is not None):
            continue
        short = kind == "by-month"
        yield Problem(
            content.where(at),
            f"no {' and no '.join(lacking)} of plane {shown(plane.get('name'))}, with snow {kind}",
            "slant_height_m, or where the modules lie and how large they are"
            if short
            else "where the modules lie and how large they are: snow leaves the upper rows first",
            remedy="Write slant_height_m: the modules' length along the slope in metres."
            if short
            else "Write them, or give snow by month.",
        )
    columns = part(content.values, "weather", "columns")
    table = part(content.values, "weather", "format") in _TABLES
    if kind == "from-snowfall" and table and part(columns, "snowfall") is None:
        yield Problem(
            content.where(("site", "snow")),
            "snow from-snowfall, and no column of it",
            "snowfall in cm for each step, as snowfall in weather.columns",
            remedy="Take weather that has it, or give snow by month.",
        )


def _months(content: Content) -> Iterator[Problem]:
    """Give snow that lies on fewer days than are stated, and humidity in shares."""
    at = ("site", "snow")
    fallen, days, humid = (
        _numbers(part(content.values, *at, key))
        for key in ("snow_cm", "snow_days", "relative_humidity_percent")
    )
    for month, (height, count) in enumerate(zip(fallen, days, strict=False)):
        if count <= 31.0 and height < _DEEP_CM * count:
            metres = 100.0 * height >= _DEEP_CM * count
            yield Problem(
                content.where((*at, "snow_cm", month)),
                f"{height:g} cm with {count:g} days of more than {_DEEP_CM:g} cm in "
                f"{month_name[month + 1]}",
                f"at least {_DEEP_CM * count:g} cm",
                cause="In metres?" if metres and height > 0.0 else "Lists of other months?",
            )
            break
    if humid and max(humid) <= 1.0:
        yield Problem(
            content.where((*at, "relative_humidity_percent")),
            f"{min(humid):g} to {max(humid):g} %",
            "percent",
            cause="Written as shares?",
            remedy=f"Write {100.0 * humid[0]:g} in place of {humid[0]:g}, and so on",
        )


def _numbers(values: Any) -> list[float]:
    given = values if isinstance(values, tuple) else ()
    return [float(each) for each in given if is_number(each)]


def _lacking(content: Content, plane: dict[str, Any]) -> list[str]:
    """Return what isn't known of where a plane's modules lie."""
    lacking = []
    if not plane.get("drawing") and not plane.get("positions"):
        lacking.append("drawing or positions")
    if plane.get("layout") is None:
        lacking.append("layout")
    for _, module in entries(content.values, "module_types"):
        if module.get("name") == plane.get("module_type"):
            sides = ("length_m", "width_m")
            lacking += [side for side in sides if module.get(side) is None]
    return lacking
