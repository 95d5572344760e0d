"""What a wiring leaves out or mixes: idle trackers, unused planes, modules not wired."""

from __future__ import annotations

from collections.abc import Iterator

from yieldkit.config.site.site import Site, Wiring
from yieldkit.design.checks.findings import COSTS_YIELD, PASSES, Finding
from yieldkit.design.checks.wired import StringFacts


def idle_inputs(site: Site, wiring: Wiring) -> Iterator[Finding]:
    """Report the inputs of one inverter that a wiring leaves idle."""
    used = {tracker.mppt for tracker in wiring.trackers}
    idle = [mppt.name for mppt in site.single_inverter.mppts if mppt.name not in used]
    yield _count("idle trackers", "inverter", idle, "left idle")


def usage(site: Site, strings: tuple[StringFacts, ...]) -> Iterator[Finding]:
    """Report unused planes, modules not wired, shared and mixed strings of all inverters."""
    wired: dict[str, int] = {}
    for string in strings:
        for count, plane, _, _ in string.groups:
            wired[plane.name] = wired.get(plane.name, 0) + count
    unused = [plane.name for plane in site.planes if plane.name not in wired]
    yield _count("unused planes", "array", unused, "used nowhere")
    left = sum(plane.modules - wired.get(plane.name, 0) for plane in site.planes)
    what = "1 module is" if left == 1 else f"{left} modules are"
    yield Finding(
        "modules not wired",
        "array",
        COSTS_YIELD if left else PASSES,
        float(left),
        0.0,
        "modules",
        "the wiring as drawn",
        f"{what} drawn but not wired." if left else "",
    )
    on_two = "a string on two trackers"
    yield Finding(on_two, "wiring", PASSES, 0.0, 0.0, "strings", "the wiring as drawn")
    mixed = [
        string.subject for string in strings if len({f.name for _, _, f, _ in string.groups}) > 1
    ]
    yield _count("mixed module types in a string", "array", mixed, "of mixed module types")
    crossing = [
        string.subject for string in strings if len({p.name for _, p, _, _ in string.groups}) > 1
    ]
    yield _count("strings across planes", "array", crossing, "across planes in series")


def _count(check: str, subject: str, names: list[str], phrase: str) -> Finding:
    return Finding(
        check,
        subject,
        COSTS_YIELD if names else PASSES,
        float(len(names)),
        0.0,
        "1",
        "the wiring as drawn",
        f"{', '.join(names)}: {phrase}." if names else "",
    )
