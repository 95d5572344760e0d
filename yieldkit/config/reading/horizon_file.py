"""Far horizons in files: azimuths and elevations, told line by line where they are wrong."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

from yieldkit.base.errors import Problem
from yieldkit.config.reading.content import Content
from yieldkit.config.reading.parts import part
from yieldkit.config.reading.wording import shown, shown_path

_HEADER = ("azimuth_deg", "elevation_deg")
_AT = ("site", "horizon_file")


def with_horizon(content: Content, folder: str) -> tuple[dict[str, Any], list[Problem]]:
    """Return a site's values with the horizon that its file holds in the file's place.

    Parameters
    ----------
    content : Content
        A site file's content, of any shape.
    folder : str
        Folder from which its relative paths count.

    Returns
    -------
    tuple of (dict, list of Problem)
        The values, and what is wrong with the file.
    """
    values = dict(content.values)
    name = part(values, *_AT)
    if not isinstance(name, str) or not name:
        return values, []
    path = next((p for p in (Path(folder, name), Path(name)) if p.is_file()), None)
    if path is None:
        remedy = (
            "Paths count from the site file's folder; `yieldkit weather --horizon` fetches one."
        )
        got = f"{shown(name)}, which is not there"
        return values, [Problem(content.where(_AT), got, "a file that is there", remedy=remedy)]
    points, problems = _points(path)
    if part(values, "site", "horizon") and content.lines.get(_AT) is not None:
        problems.append(
            Problem(
                content.where(_AT),
                "a horizon_file beside horizon",
                "one of the two",
                remedy="Leave one of them out.",
            )
        )
    values["site"] = values["site"] | {"horizon": points, "horizon_file": None}
    return values, problems


def _points(path: Path) -> tuple[tuple[dict[str, float], ...], list[Problem]]:
    """Return the points of a horizon file, and what is wrong in it."""
    try:
        with path.open(encoding="utf-8-sig", newline="") as stream:
            rows = [(number, row) for number, row in enumerate(csv.reader(stream), 1) if row]
    except (OSError, UnicodeDecodeError):
        got = "a file that can't be read as text"
        return (), [Problem(shown_path(path), got, "a table in UTF-8 with commas")]
    rows = [(number, row) for number, row in rows if not row[0].startswith("#")]
    head = tuple(cell.strip() for cell in rows[0][1]) if rows else ()
    if head != _HEADER:
        got = f"the columns {shown(', '.join(head))}" if head else "an empty file"
        return (), [Problem(shown_path(path), got, f"the columns {', '.join(_HEADER)}")]
    points, problems, last = [], [], -1.0
    for number, row in rows[1:]:
        where = f"{shown_path(path)}, line {number}"
        found = [_number(cell) for cell in row]
        if len(found) != 2 or None in found:
            problems.append(Problem(where, shown(",".join(row)), "two numbers in degrees"))
            continue
        azimuth, elevation = found[0] or 0.0, found[1] or 0.0
        if not (0.0 <= azimuth < 360.0 and azimuth > last):
            needed = "rising azimuths from 0 up to below 360, from north through east"
            problems.append(Problem(where, f"the azimuth {azimuth:g}", needed))
        if not 0.0 <= elevation < 90.0:
            needed = "0 up to below 90 degrees above horizontal"
            problems.append(Problem(where, f"the elevation {elevation:g}", needed))
        last = azimuth
        points.append({"azimuth_deg": azimuth, "elevation_deg": elevation})
    return tuple(points), problems


def _number(cell: str) -> float | None:
    try:
        return float(cell)
    except ValueError:
        return None
