"""Dirt on a plane, said in one way only."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from yieldkit.base.errors import Problem
from yieldkit.config.reading.content import Content, Location
from yieldkit.config.reading.parts import number

_WAYS = ("soiling_loss_percent", "soiling_by_month_percent", "soiling_from_rain")


def plane_dirt(content: Content, at: Location, plane: dict[str, Any]) -> Iterator[Problem]:
    """Give the problems of what a plane says of its dirt.

    Parameters
    ----------
    content : Content
        The file's content, of any shape.
    at : Location
        Where the plane stands.
    plane : dict
        The plane.
    """
    said = [way for way in _WAYS if plane.get(way) not in (None, 0, 0.0)]
    for way in said[1:]:
        yield Problem(
            content.where((*at, way)),
            f"{way} beside {said[0]}",
            "dirt in one way only: it would be booked twice",
            remedy="Leave one of them out.",
        )
    rain = plane.get("soiling_from_rain")
    fine, coarse = number(rain, "pm2_5_ug_m3"), number(rain, "pm10_ug_m3")
    if fine is not None and coarse is not None and coarse < fine:
        yield Problem(
            content.where((*at, "soiling_from_rain", "pm10_ug_m3")),
            f"{coarse:g}, below pm2_5_ug_m3, which is {fine:g}",
            "at least as much: the finer dust is included",
            cause="Are the two swapped?",
        )
