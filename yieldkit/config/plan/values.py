"""The values of an axis: listed, or evenly spaced between two numbers."""

from __future__ import annotations

import math
from typing import Any

from yieldkit.base.errors import Problem
from yieldkit.config.models.plan import Range
from yieldkit.config.plan.conditions import kind_of
from yieldkit.config.reading.content import Content, Location
from yieldkit.config.reading.wording import shown

MOST_VALUES = 1_000_000
_DIGITS = 12
_NEAR = 1e-9
_KINDS = {bool: "truth values", str: "text", float: "numbers"}


def axis_values(axis: Any, at: Location, content: Content) -> tuple[tuple[Any, ...], list[Problem]]:
    """Return an axis' values and what is wrong with them.

    Parameters
    ----------
    axis : PathAxis, ModuleTypeAxis, StringLengthAxis or DcAcRatioAxis
        The axis.
    at : tuple
        Where it stands in the plan.
    content : Content
        The plan, for lines.
    """
    range_ = getattr(axis, "range", None)
    if range_ is not None and axis.values:
        got = "values and a range"
        return (), [Problem(content.where((*at, "range")), got, "one of the two")]
    if range_ is not None:
        return _spaced(range_, content.where((*at, "range")))
    if not axis.values:
        return (), [Problem(content.where(at), "no values", "values, or a range")]
    return tuple(axis.values), _unlike(axis.values, (*at, "values"), content)


def _unlike(values: tuple[Any, ...], at: Location, content: Content) -> list[Problem]:
    """Return what is wrong with listed values: of several kinds, or one of them twice."""
    problems, seen = [], set()
    kind = kind_of(values[0])
    for number, value in enumerate(values):
        where = content.where((*at, number))
        if kind_of(value) is not kind:
            needed = f"{_KINDS[kind]}, as the first value of this axis"
            remedy = "Put text in quotes, and numbers without."
            problems.append(Problem(where, shown(value), needed, remedy=remedy))
        elif value in seen:
            problems.append(Problem(where, f"{shown(value)} again", "each value once"))
        seen.add(value)
    return problems


def _spaced(asked: Range, where: str) -> tuple[tuple[Any, ...], list[Problem]]:
    span = asked.last - asked.first
    if (asked.step is None) == (asked.count is None):
        got = "neither step nor count" if asked.step is None else "a step and a count"
        return (), [Problem(where, got, "one of the two")]
    if asked.step is None:
        count = int(asked.count or 1)
        if (count == 1) != (span == 0.0):
            number = "one number" if count == 1 else f"{count} numbers"
            got = f"{number} from {asked.first:g} to {asked.last:g}"
            return (), [Problem(where, got, "two or more numbers between different ends")]
        step = span / max(count - 1, 1)
    else:
        step = asked.step
        if step == 0.0 or span / step < 0.0:
            got = f"from {asked.first:g} to {asked.last:g} in steps of {step:g}, which never ends"
            remedy = f"Write step: {abs(step) * math.copysign(1, span):g}." if step else ""
            return (), [Problem(where, got, "a step that leads from first to last", remedy=remedy)]
        if span / step > MOST_VALUES:
            got = f"{span / step:,.0f} numbers"
            return (), [Problem(where, got, f"at most {MOST_VALUES:,} on an axis")]
        count = math.floor(span / step + _NEAR) + 1
    found = [float(f"{asked.first + number * step:.{_DIGITS}g}") for number in range(count)]
    if all(value.is_integer() for value in found):
        return tuple(int(value) for value in found), []
    return tuple(found), []
