"""An inverter's size by the modules wired to it: all its AC ratings scaled alike."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from yieldkit.config.models.inverters import Inverter, ListedEfficiency
from yieldkit.config.plan.file import AxisPart, PlanFile
from yieldkit.config.reading.content import Location
from yieldkit.config.reading.paths import at
from yieldkit.config.reading.wording import one_of, shown
from yieldkit.config.site.site import Site
from yieldkit.design.equipment.modules import module_power_stc
from yieldkit.study.batch.bases import Base

_RATINGS = (
    "nominal_power_w",
    "max_power_w",
    "max_apparent_power_va",
    "max_current_a",
    "max_overcurrent_device_a",
)
"""What of `ac` is a rating: an export limit is a setting, and voltages are the network's."""
_DIGITS = 12

Changes = Mapping[Location, Any]


@dataclass(frozen=True)
class Size:
    """An inverter whose size is varied, in a site with one wiring.

    Parameters
    ----------
    ratings : tuple of (tuple, float)
        Where each AC rating stands, and what the site has [W, VA, A].
    nominal : float
        Its nominal power [W].
    groups : tuple of (tuple, int)
        Where the number of modules of each group wired to it stands, and on which plane they lie.
    types : tuple of str
        Module type of every plane.
    powers : Mapping
        Rated power of every module type [W].
    power_at : Mapping
        Where that power stands in the site, of types by datasheet.
    counts : tuple of int
        The site's number of modules of each group.
    """

    ratings: tuple[tuple[Location, float], ...]
    nominal: float
    groups: tuple[tuple[Location, int], ...]
    counts: tuple[int, ...]
    types: tuple[str, ...]
    powers: Mapping[str, float]
    power_at: Mapping[str, Location]

    def dc_power(self, changes: Changes) -> float:
        """Return the rated power of the modules wired to it [W]."""
        total = 0.0
        for (where, plane), own in zip(self.groups, self.counts, strict=True):
            kind = changes.get(("planes", plane, "module_type"), self.types[plane])
            power = changes.get(self.power_at.get(kind, ()), self.powers.get(kind, 0.0))
            total += changes.get(where, own) * power
        return total

    def changes(self, ratio: float, others: Changes) -> dict[Location, Any]:
        """Return its ratings for a ratio; none where the wiring leaves it without modules."""
        power = self.dc_power(others)
        if not power:
            return {}
        factor = power / (ratio * self.nominal)
        return {where: float(f"{rating * factor:.{_DIGITS}g}") for where, rating in self.ratings}


def rated_places(base: Base, axis: AxisPart, told: PlanFile) -> tuple[Location, ...]:
    """Return where the AC ratings of an axis' inverter stand.

    Parameters
    ----------
    base : Base
        The site.
    axis : AxisPart
        An axis of DC/AC ratios.
    told : PlanFile
        The plan.

    Raises
    ------
    InputError
        With the line: if there is no such inverter, or its conversion is that of a listed row,
        whose losses are of one size.
    """
    place, inverter = _inverter(base.site, axis, told)
    if isinstance(inverter.efficiency, ListedEfficiency):
        told.refuse(
            axis.where,
            f"the inverter {shown(inverter.name)}, whose efficiency is a row of a list",
            "an inverter with a table of efficiencies or weighted figures",
            "A row's losses are those of its own size.",
        )
    ac = at(base.content, (*place, "ac"))
    rated = [(*place, "ac", key) for key in _RATINGS if ac[key] is not None]
    points = range(len(inverter.derating))
    return (*rated, *((*place, "derating", number, "max_power_w") for number in points))


def size_of(base: Base, axis: AxisPart, told: PlanFile, wiring: int) -> Size:
    """Return the inverter of an axis in a site with one wiring.

    Parameters
    ----------
    base : Base
        The site.
    axis : AxisPart
        An axis of DC/AC ratios.
    told : PlanFile
        The plan.
    wiring : int
        Which of the site's wirings.
    """
    places = rated_places(base, axis, told)
    planes = [plane.name for plane in base.site.planes]
    groups, counts = [], []
    for t, tracker in enumerate(base.site.wirings[wiring].trackers):
        if base.site.several_inverters and tracker.inverter != axis.said.inverter:
            continue
        for s, string in enumerate(tracker.strings):
            for g, group in enumerate(string.groups):
                where = ("wirings", 0, "trackers", t, "strings", s, "groups", g, "modules")
                groups.append((where, planes.index(group.plane)))
                counts.append(group.modules)
    types = base.site.module_types
    return Size(
        tuple((place, float(at(base.content, place))) for place in places),
        float(at(base.content, places[0])),
        tuple(groups),
        tuple(counts),
        tuple(plane.module_type for plane in base.site.planes),
        {each.name: module_power_stc(each) for each in types},
        {
            each.name: ("module_types", number, "p_max_w")
            for number, each in enumerate(types)
            if each.source == "datasheet"
        },
    )


def _inverter(site: Site, axis: AxisPart, told: PlanFile) -> tuple[Location, Inverter]:
    """Return where an axis' inverter stands, and the inverter."""
    names = [one.name for one in site.each_inverter()]
    asked = axis.said.inverter
    if asked is None and len(names) > 1:
        told.refuse(axis.where, "no inverter", one_of(names), "Name one of them: inverter: ...")
    if asked is not None and asked not in names:
        told.refuse((*axis.where, "inverter"), f"the inverter {shown(asked)}", one_of(names))
    if site.inverter is not None:
        return ("inverter",), site.inverter
    own = site.inverters[names.index(asked) if asked is not None else 0]
    kinds = [kind.name for kind in site.inverter_types]
    number = kinds.index(own.type)
    return ("inverter_types", number), site.inverter_types[number]
