"""A plant's log read from the tables that a description names."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from pathlib import Path

from yieldkit.base.errors import refuse
from yieldkit.config.log.file import DescriptionFile, load_description
from yieldkit.config.site.site import Site, Wiring
from yieldkit.design.checks.limits import named_wiring
from yieldkit.study.logs.assembly import assembled
from yieldkit.study.logs.group import read_group
from yieldkit.study.logs.plant_log import PlantLog
from yieldkit.study.logs.raster import common_step, stepped
from yieldkit.study.logs.sensors import sensed
from yieldkit.study.logs.starting import refuse_table
from yieldkit.study.logs.table import Written
from yieldkit.study.logs.units import ELECTRICAL
from yieldkit.study.logs.utc_times import Clock
from yieldkit.study.logs.wanted import Tables, tables_of


def read_log(file: str | Path, site: Site, wiring: str | None = None) -> PlantLog:
    """Read what a plant's inverters and sensors wrote down.

    Parameters
    ----------
    file : str or Path
        The description (YAML): which tables, which clock, which column holds what.
    site : Site
        The site.
    wiring : str, optional
        Name of the wiring that was built; by default the one that the description names, else the
        site's first.

    Returns
    -------
    PlantLog
        Voltages [V], currents [A] and powers [W] of every input in use, means over steps of one
        length; weather of the same steps where light was written; what was left out and why.

    Raises
    ------
    InputError
        For a description or tables that can't be understood, columns, inputs or planes that
        aren't there, and readings that no such plant gives.
    """
    refuse_table(Path(file))
    described = load_description(file)
    chosen = _wiring(described, site, wiring)
    groups = tables_of(described, site, chosen)
    clock = _clock(described)
    written = _written(described)
    read = [read_group(group, clock, written) for group in groups]
    step_s = common_step([each.rows for each in read])
    brought = [stepped(each.rows, step_s, clock.label) for each in read]
    where = ", ".join(dict.fromkeys(each.rows.name for each in read))
    smallest = {name: step for each in read for name, step in each.smallest.items()}
    readings = assembled(site, chosen, groups, brought, smallest, step_s, where)
    sensors = [each.name for group in groups for each in group.wanted if not each.of]
    weather = sensed(
        readings.columns[sensors],
        site,
        chosen,
        described.said,
        clock.utc_offset_s,
        _provenance(groups, described),
    )
    remarks = [*_unsaid(described, site, wiring, chosen)]
    remarks += [remark for each in read for remark in each.remarks]
    remarks += [remark for each in brought for remark in each.remarks]
    log = PlantLog(Path(file).name, readings.dataset(clock.utc_offset_s), weather.weather)
    told = dict.fromkeys((*remarks, *readings.remarks, *weather.remarks))
    return log.leaving_out(readings.reasons(), *told)


def _wiring(described: DescriptionFile, site: Site, name: str | None) -> Wiring:
    said = described.said.wiring
    if name is not None and said is not None and name != said:
        refuse(
            described.where(("wiring",)),
            f"readings of the wiring '{said}'",
            f"readings of '{name}'",
            remedy="Name the wiring that was built, in one of the two places",
        )
    return named_wiring(site, name if name is not None else said)


def _unsaid(
    described: DescriptionFile, site: Site, name: str | None, chosen: Wiring
) -> Iterator[str]:
    """Give what was taken because nobody said otherwise."""
    if name is None and described.said.wiring is None and len(site.wirings) > 1:
        yield (
            f"Read as of the wiring '{chosen.name}', the site's first: nothing says which was "
            "built."
        )


def _clock(described: DescriptionFile) -> Clock:
    said = described.said
    wall = None if said.clock is None else said.clock == "wall"
    where = described.where
    clock = Clock(said.zone, wall, said.label, where(("zone",)), where(("clock",)))
    # A zone that is none is told before any table is read.
    _ = clock.utc_offset_s
    return clock


def _written(described: DescriptionFile) -> Written:
    said = described.said
    units = {quantity: getattr(said.units, quantity, None) for quantity in ELECTRICAL}
    return Written(said.decimal, said.date_format, said.encoding, units)


def _provenance(groups: Sequence[Tables], described: DescriptionFile) -> dict[str, str]:
    files = list(dict.fromkeys(path for group in groups for path in group.files))
    hashes = [hashlib.sha256(path.read_bytes()).hexdigest() for path in files]
    return {
        "title": f"log {described.content.name}",
        "source": ", ".join(path.name for path in files),
        "attribution": "",
        "sha256": ", ".join(hashes),
    }
