"""Conductors that nobody makes: sections outside IEC 60228."""

from __future__ import annotations

from collections.abc import Iterator

from yieldkit.base.errors import Problem
from yieldkit.config.models.conductors import SECTIONS
from yieldkit.config.reading.content import Content, Location
from yieldkit.config.reading.parts import entries, number, part
from yieldkit.config.reading.wording import shown


def conductor_relations(content: Content) -> Iterator[Problem]:
    """Give the conductors that nobody makes: sections outside IEC 60228.

    Parameters
    ----------
    content : Content
        The file's content, of any shape.
    """
    for at, wiring in entries(content.values, "wirings"):
        for tracker_at, tracker in entries(wiring, "trackers"):
            for string_at, string in entries(tracker, "strings"):
                spot = (*at, *tracker_at, *string_at, "cable")
                yield from _section(content, spot, part(string, "cable"), "class-5-tinned")
    yield from _section(content, ("grid", "lead"), part(content.values, "grid", "lead"), "class-2")
    for at, installed in entries(content.values, "inverters"):
        yield from _section(content, (*at, "lead"), part(installed, "lead"), "class-2")


def _section(content: Content, at: Location, conductor: object, usual: str) -> Iterator[Problem]:
    if not isinstance(conductor, dict):
        return
    material, kind = conductor.get("material", "copper"), conductor.get("conductor_class", usual)
    size = number(conductor, "cross_section_mm2")
    are_texts = isinstance(material, str) and isinstance(kind, str)
    made = SECTIONS.get((material, kind)) if are_texts else None
    if made is None:
        if material == "aluminium" and isinstance(kind, str):
            yield Problem(
                content.where((*at, "conductor_class")),
                f"aluminium of {shown(kind)}",
                "aluminium of class-2",
                remedy="Write conductor_class: class-2",
            )
        return
    if size is None or size in made or not 0.5 <= size <= 1000.0:
        return
    nearest = [each for each in made if each >= size][:1] or [made[-1]]
    several = "; for more use conductors_in_parallel" if size > made[-1] else ""
    yield Problem(
        content.where((*at, "cross_section_mm2")),
        f"{size:g} mm2",
        f"a nominal cross-section of {material}, {kind}: " + ", ".join(f"{s:g}" for s in made),
        remedy=f"Is it {nearest[0]:g}{several}?",
    )
