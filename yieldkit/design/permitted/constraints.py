"""What a person asks of the wirings, and what such constraints may not contradict."""

from __future__ import annotations

from typing import Any, NamedTuple

from yieldkit.base.errors import InputError, Problem, nearest, refuse
from yieldkit.config.site.site import Site, TrackerStrings
from yieldkit.design.checks.limits import named_wiring


class Constraints(NamedTuple):
    """What a person asks of the wirings.

    Parameters
    ----------
    leave_at_most : int
        Modules that may stay unwired.
    crossing : tuple of tuple of str
        Sets of planes that a string may cross; by default a string stays on one plane.
    strings_per_tracker : int, optional
        Most strings on one input; its connectors if left out.
    shortest, longest : int, optional
        Limits of the string length [modules], beside the inputs' own.
    keep_free : tuple of str
        Inputs that stay idle; on a site of several inverters "inverter / input".
    fixed : tuple of TrackerStrings
        Inputs that are wired already.
    """

    leave_at_most: int = 0
    crossing: tuple[tuple[str, ...], ...] = ()
    strings_per_tracker: int | None = None
    shortest: int | None = None
    longest: int | None = None
    keep_free: tuple[str, ...] = ()
    fixed: tuple[TrackerStrings, ...] = ()


def constraints_from(site: Site, content: dict[str, Any]) -> Constraints:
    """Return constraints from plain content, as commands and notebooks hand them over.

    Parameters
    ----------
    site : Site
        The site whose wirings hold what is laid already.
    content : dict
        `leave_out`, `strings`, `shortest`, `longest` (numbers or None), `cross` (lists of plane
        names), `keep_free` and `laid` (names of inputs), `wiring` (the wiring that `laid` is
        taken from, the first if left out).

    Returns
    -------
    Constraints
        As `propose` takes them.

    Raises
    ------
    InputError
        For an unknown key, wiring or input.
    """
    known = ("leave_out", "strings", "shortest", "longest", "cross", "keep_free", "laid", "wiring")
    for key in content:
        if key not in known:
            close = nearest(str(key), known)
            refuse(
                "constraints",
                f"'{key}'",
                "one of " + ", ".join(known),
                remedy=f"Did you mean '{close}'?" if close else "",
            )
    drawn = named_wiring(site, content.get("wiring"))
    laid = {site.input_name(tracker): tracker for tracker in drawn.trackers}
    for name in content.get("laid", ()):
        if name not in laid:
            close = nearest(name, laid)
            refuse(
                "laid",
                f"'{name}'",
                f"an input in use in wiring '{drawn.name}'",
                remedy=f"Did you mean '{close}'?" if close else "",
            )
    return Constraints(
        leave_at_most=content.get("leave_out") or 0,
        crossing=tuple(tuple(group) for group in content.get("cross", ())),
        strings_per_tracker=content.get("strings"),
        shortest=content.get("shortest"),
        longest=content.get("longest"),
        keep_free=tuple(content.get("keep_free", ())),
        fixed=tuple(laid[name] for name in content.get("laid", ())),
    )


def fixed_modules(constraints: Constraints) -> dict[str, int]:
    """Return how many modules of each plane are wired already."""
    used: dict[str, int] = {}
    for tracker in constraints.fixed:
        for string in tracker.strings:
            for group in string.groups:
                used[group.plane] = used.get(group.plane, 0) + group.modules
    return used


def refuse_contradictions(site: Site, constraints: Constraints) -> None:
    """Refuse constraints that contradict one another or name what isn't there.

    Parameters
    ----------
    site : Site
        The site.
    constraints : Constraints
        What is asked.

    Raises
    ------
    InputError
        With every problem; the nearest name is suggested.
    """
    problems = []
    planes = [plane.name for plane in site.planes]
    mppts = list(site.inputs())
    asked = [("crossing planes", name, planes) for group in constraints.crossing for name in group]
    asked += [("inputs to keep free", name, mppts) for name in constraints.keep_free]
    asked += [("fixed inputs", site.input_name(each), mppts) for each in constraints.fixed]
    for where, name, known in asked:
        if name not in known:
            close = nearest(name, known)
            problems.append(
                Problem(
                    where,
                    f"'{name}'",
                    "one of " + ", ".join(f"'{each}'" for each in known),
                    remedy=f"Did you mean '{close}'?" if close else "",
                )
            )
    wired = {site.input_name(each) for each in constraints.fixed}
    both = sorted(wired & set(constraints.keep_free))
    if both:
        problems.append(
            Problem("constraints", f"{both[0]} both wired already and kept free", "one of the two")
        )
    if constraints.shortest and constraints.longest and constraints.shortest > constraints.longest:
        problems.append(
            Problem(
                "string length",
                f"{constraints.shortest} to {constraints.longest} modules",
                "the shorter one first",
                remedy="Swap the two.",
            )
        )
    if constraints.leave_at_most < 0:
        problems.append(Problem("modules left out", f"{constraints.leave_at_most}", "zero or more"))
    for where, number in (
        ("strings on an input", constraints.strings_per_tracker),
        ("shortest string", constraints.shortest),
        ("longest string", constraints.longest),
    ):
        if number is not None and number < 1:
            problems.append(Problem(where, f"{number}", "at least 1, or nothing"))
    drawn = {plane.name: plane.modules for plane in site.planes}
    for name, used in fixed_modules(constraints).items():
        if name in drawn and used > drawn[name]:
            problems.append(
                Problem(
                    f"plane '{name}'",
                    f"{used} modules wired already",
                    f"at most the {drawn[name]} modules drawn on it",
                )
            )
    if problems:
        raise InputError(problems)
