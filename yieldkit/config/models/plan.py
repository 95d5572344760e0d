"""The plan of a batch of runs: a site, what is varied, what is left out and what is kept."""

from __future__ import annotations

import math
import re
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, Field

from yieldkit.config.models.base import Count, FileName, Frozen, Name, Positive, Text

_WORD = re.compile(r"^[A-Za-z][A-Za-z0-9_]*$")
_KEPT = ("and", "or", "not", "in", "true", "false", "run", "number", "wiring", "status", "message")
"""Words of conditions, and columns that every table of runs has."""
_LARGEST = 1e100


def _word(name: str) -> str:
    if not _WORD.match(name):
        raise ValueError("a word of letters, digits and _ that begins with a letter")
    if name in _KEPT:
        raise ValueError(f"another word: '{name}' has a meaning of its own in conditions or tables")
    return name


def _scalar(value: Any) -> Any:
    if isinstance(value, bool | str):
        return value
    if isinstance(value, int | float) and math.isfinite(value) and abs(value) < _LARGEST:
        return value
    raise ValueError("a number, text, or true or false")


def _listed(value: Any) -> Any:
    return (value,) if isinstance(value, str) else value


def _wirings(value: Any) -> Any:
    if isinstance(value, str) and value in ("all", "permitted"):
        return value
    if isinstance(value, dict) and tuple(value) == ("proposed",):
        number = value["proposed"]
        if isinstance(number, bool) or not isinstance(number, int) or not 1 <= number <= 1000:
            raise ValueError("'proposed: N' with a whole number from 1 to 1000")
        return Proposed(proposed=number)
    if isinstance(value, tuple) and value and all(isinstance(name, str) for name in value):
        return value
    raise ValueError("all, permitted, 'proposed: N' below it, or a list of names")


AxisName = Annotated[str, Field(max_length=60), AfterValidator(_word)]
"""What an axis is called in conditions and as a column: one word."""
Scalar = Annotated[Any, AfterValidator(_scalar)]
"""A number, text or a truth value."""
Files = Annotated[
    tuple[FileName, ...], BeforeValidator(_listed), Field(min_length=1, max_length=10_000)
]
"""Paths, or patterns such as "years/*.csv"; they count from the plan's folder."""


class Range(Frozen):
    """Evenly spaced numbers, both ends included."""

    first: float
    """The first number."""
    last: float
    """The last number; with a step that doesn't meet it, the last one before it."""
    step: float | None = None
    """From one number to the next."""
    count: Annotated[int, Field(ge=1, le=1_000_000)] | None = None
    """How many numbers, in place of the step."""


class PathAxis(Frozen):
    """An axis of values at one place of the site file."""

    kind: Literal["key"]
    """What is varied: what stands at a path; it may be left out."""
    name: AxisName
    """What the axis is called: one word."""
    path: FileName
    """Keys with dots between them, entries of lists by name, such as planes.west roof.tilt_deg."""
    values: tuple[Scalar, ...] = ()
    """The values."""
    range: Range | None = None
    """Evenly spaced numbers, in place of values."""


class ModuleTypeAxis(Frozen):
    """An axis of module types."""

    kind: Literal["module_type"]
    """What is varied: the type of the modules."""
    name: AxisName
    """What the axis is called: one word."""
    plane: Name | None = None
    """The plane whose modules are of that type; all planes, if left out."""
    values: Annotated[tuple[Name, ...], Field(min_length=1)]
    """Names of module types of the site file."""


class StringLengthAxis(Frozen):
    """An axis of lengths of the strings on one input."""

    kind: Literal["string_length"]
    """What is varied: the modules of every string on an input."""
    name: AxisName
    """What the axis is called: one word."""
    tracker: Name
    """The input, such as "MPPT 1"; of several inverters with its own, such as "hall / MPPT 1"."""
    values: tuple[Count, ...] = ()
    """Modules in series."""
    range: Range | None = None
    """Evenly spaced whole numbers, in place of values."""


class DcAcRatioAxis(Frozen):
    """An axis of an inverter's size, by the modules wired to it."""

    kind: Literal["dc_ac_ratio"]
    """What is varied: the rated power of the modules wired to an inverter, over its nominal AC
    power. All AC ratings of the inverter are scaled alike."""
    name: AxisName
    """What the axis is called: one word."""
    inverter: Name | None = None
    """The inverter; may be left out where there is one only."""
    values: tuple[Positive, ...] = ()
    """Ratios."""
    range: Range | None = None
    """Evenly spaced ratios, in place of values."""


class WeatherAxis(Frozen):
    """An axis of weather files that are all read by the site's weather block."""

    kind: Literal["weather"]
    """What is varied: the weather file."""
    name: AxisName
    """What the axis is called: one word."""
    files: Files
    """Paths or patterns of weather files, as seen from the plan's folder."""


class SiteAxis(Frozen):
    """An axis of site files."""

    kind: Literal["site"]
    """What is varied: the site file."""
    name: AxisName
    """What the axis is called: one word."""
    files: Files
    """Paths or patterns of site files, as seen from the plan's folder."""


Member = Annotated[
    PathAxis | ModuleTypeAxis | StringLengthAxis | DcAcRatioAxis | WeatherAxis,
    Field(discriminator="kind"),
]


class GroupAxis(Frozen):
    """Axes that go together: the first values of all, then the second ones, and so on."""

    kind: Literal["group"]
    """What is varied: several things side by side; it may be left out."""
    name: AxisName
    """What the group is called: one word."""
    together: Annotated[tuple[Member, ...], Field(min_length=2)]
    """Its members, each with as many values as the others."""


Axis = Annotated[
    PathAxis
    | ModuleTypeAxis
    | StringLengthAxis
    | DcAcRatioAxis
    | WeatherAxis
    | SiteAxis
    | GroupAxis,
    Field(discriminator="kind"),
]


class Proposed(Frozen):
    """The best wirings of the ranking of everything that nothing forbids."""

    proposed: Count
    """How many."""


class Keep(Frozen):
    """What tables and files hold beside the annual results."""

    monthly: bool = False
    """Delivered energy by calendar month."""
    loss_budget: bool = True
    """Every step of the loss budget."""
    trackers: bool = False
    """Energy of every input."""
    hourly: tuple[Text, ...] = ()
    """Variables of the results kept for every step of the weather, in a file a part."""


class Plan(Frozen):
    """What is run: every combination of the axes' values and the wirings."""

    base: FileName | None = None
    """The site file that everything is a variant of, as seen from the plan's folder; the
    demonstration site if left out."""
    axes: tuple[Axis, ...] = ()
    """What is varied."""
    wirings: Annotated[
        Literal["all", "permitted"] | Proposed | tuple[Name, ...], BeforeValidator(_wirings)
    ] = "all"
    """The site's wirings: all, permitted (those that pass every check), proposed (the best of the
    ranking), or their names."""
    leave_out: tuple[Annotated[str, Field(min_length=1, max_length=2000)], ...] = ()
    """Conditions such as "tilt < 10 and wiring == 'lopsided'"; a run that meets one is left out."""
    keep: Keep = Keep()
    """What is kept beside the annual results."""
    notes: Text | None = None
    """A remark."""
    folder: str = Field(default="", exclude=True)
    """Folder of the plan, from which its paths count; set by the reader."""
