"""What strings, inputs and a sheet are called: the same on paper, in files and in findings."""

from __future__ import annotations

import hashlib
import json
from typing import NamedTuple

from yieldkit.config.models.planes import Plane
from yieldkit.config.site.site import Site, TrackerStrings, WiredString, Wiring
from yieldkit.design.checks.limits import site_facts
from yieldkit.design.checks.wired import StringFacts, string_facts


class NamedString(NamedTuple):
    """A string of a wiring with its names.

    Parameters
    ----------
    number : int
        From 1 in the order of the inputs, as on the picture of the roof.
    name : str
        Input and place on it, such as "MPPT 1, string 2", as in findings.
    input_name : str
        The input as results name it.
    place : int
        Its number on the input, from 1.
    tracker : TrackerStrings
        The input's strings.
    string : WiredString
        The string.
    """

    number: int
    name: str
    input_name: str
    place: int
    tracker: TrackerStrings
    string: WiredString


def named_strings(site: Site, wiring: Wiring) -> tuple[NamedString, ...]:
    """Return the strings of a wiring with their names, in the order of the inputs.

    Parameters
    ----------
    site : Site
        The site.
    wiring : Wiring
        One of its wirings.
    """
    found: list[NamedString] = []
    for tracker in wiring.trackers:
        own = site.input_name(tracker)
        for place, string in enumerate(tracker.strings, start=1):
            name = f"{own}, string {place}"
            found.append(NamedString(len(found) + 1, name, own, place, tracker, string))
    return tuple(found)


def planes_in_use(site: Site, wiring: Wiring) -> tuple[Plane, ...]:
    """Return the planes that carry modules of a wiring, in the site's order.

    Parameters
    ----------
    site : Site
        The site.
    wiring : Wiring
        One of its wirings.
    """
    used = {
        group.plane
        for tracker in wiring.trackers
        for string in tracker.strings
        for group in string.groups
    }
    return tuple(plane for plane in site.planes if plane.name in used)


def facts_by_name(site: Site, wiring: Wiring) -> dict[str, StringFacts]:
    """Return what the checks know of every string, by its name.

    Parameters
    ----------
    site : Site
        The site.
    wiring : Wiring
        One of its wirings.
    """
    known, found = site_facts(site), {}
    for one in site.each_inverter():
        own = wiring.on(one.name) if site.several_inverters else wiring
        prefix = f"{one.name} / " if site.several_inverters else ""
        for string in string_facts(one.site, own, known):
            found[f"{prefix}{string.subject}"] = string
    return found


def sheet_mark(site: Site, wiring: Wiring) -> str:
    """Return a short mark of which modules hang in which string on which input.

    Parameters
    ----------
    site : Site
        The site.
    wiring : Wiring
        One of its wirings.

    Returns
    -------
    str
        Ten letters and figures. Cables and names of wirings don't count: readings of a string
        stay its readings while its modules and its input are the same.
    """
    content = [
        (each.name, [(group.plane, group.modules) for group in each.string.groups])
        for each in named_strings(site, wiring)
    ]
    text = json.dumps([site.site.name, content])
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:10]
