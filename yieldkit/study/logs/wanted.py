"""What a description asks of which tables, held against the site and the wiring that was built."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from yieldkit.base.errors import InputError, Problem, nearest
from yieldkit.base.measured_planes import MODULE, POA, measured_name
from yieldkit.config.log.file import DescriptionFile
from yieldkit.config.models.plant_log import LoggedInverter
from yieldkit.config.reading.content import Location
from yieldkit.config.site.site import OneInverter, Site, Wiring

BY_INPUT = ("v_dc", "i_dc", "p_dc", "e_dc")
"""What may be written of an input."""
_ALONE = ("ghi", "dni", "dhi", "temp_air", "wind_speed")
_OTHER = "Are these readings of another wiring or site?"


class Wanted(NamedTuple):
    """A column that is asked of a table.

    Parameters
    ----------
    quantity : str
        Such as "v_dc", or a sensor's by the weather's name.
    of : str
        Input or inverter; nothing for a sensor.
    column : str
        The column.
    phase : int
        Number of the phase, from 0.
    """

    quantity: str
    of: str
    column: str
    phase: int = 0

    @property
    def name(self) -> str:
        """What the column is called among those of a table."""
        phase = f", phase {self.phase + 1}" if self.phase else ""
        return f"{self.quantity} of {self.of}{phase}" if self.of else self.quantity


class Tables(NamedTuple):
    """Tables that hold the same columns, one after the other.

    Parameters
    ----------
    files : tuple of Path
        The tables.
    time : str
        Their column of times.
    clock : str or None
        That of the time of day, where it stands alone.
    wanted : tuple of Wanted
        The columns that are asked of each.
    at : tuple
        Where the files stand in the description.
    """

    files: tuple[Path, ...]
    time: str
    clock: str | None
    wanted: tuple[Wanted, ...]
    at: Location


def tables_of(file: DescriptionFile, site: Site, wiring: Wiring) -> tuple[Tables, ...]:
    """Return the tables that a description names, with the columns asked of each.

    Parameters
    ----------
    file : DescriptionFile
        The description.
    site : Site
        The site.
    wiring : Wiring
        The wiring that was built.

    Raises
    ------
    InputError
        For inverters, inputs or planes that aren't there, inputs without a column, and files that
        are missing; all problems at once.
    """
    said = file.said
    problems = [*_plane_problems(file, site), *_inverter_problems(file, site, wiring)]
    if problems:
        raise InputError(problems)
    common = [*_sensors(file)]
    own: list[Tables] = []
    for number, inverter in enumerate(said.inverters):
        wanted = tuple(_of_inverter(inverter, _stands(site, inverter), site))
        if not inverter.files:
            common += wanted
            continue
        at: Location = ("inverters", number, "files")
        columns = inverter.columns
        time, clock = columns.time or said.columns.time, columns.clock or said.columns.clock
        own.append(Tables(tuple(file.files(inverter.files, at)), time, clock, wanted, at))
    if common:
        files = tuple(file.files(said.files, ("files",)))
        first = Tables(files, said.columns.time, said.columns.clock, tuple(common), ("files",))
        own.insert(0, first)
    return tuple(own)


def _sensors(file: DescriptionFile) -> Iterator[Wanted]:
    columns = file.said.columns
    for quantity in (POA, MODULE):
        for plane, column in getattr(columns, quantity):
            yield Wanted(measured_name(quantity, plane), "", column)
    for quantity in _ALONE:
        column = getattr(columns, quantity)
        if column is not None:
            yield Wanted(quantity, "", column)


def _of_inverter(inverter: LoggedInverter, own: OneInverter, site: Site) -> Iterator[Wanted]:
    columns = inverter.columns
    for quantity in BY_INPUT:
        for mppt, column in getattr(columns, quantity):
            yield Wanted(quantity, input_of(site, own, mppt), column)
    for quantity in ("p_ac", "e_ac"):
        column = getattr(columns, quantity)
        if column is not None:
            yield Wanted(quantity, own.name, column)
    for phase, column in enumerate(columns.v_ac):
        yield Wanted("v_ac", own.name, column, phase)


def input_of(site: Site, inverter: OneInverter, mppt: str) -> str:
    """Return what results call an input of an inverter."""
    return f"{inverter.name} / {mppt}" if site.several_inverters else mppt


def _stands(site: Site, inverter: LoggedInverter) -> OneInverter:
    """Return the inverter of the site that is meant."""
    known = {each.name: each for each in site.each_inverter()}
    return known[inverter.name] if inverter.name is not None else next(iter(known.values()))


def _plane_problems(file: DescriptionFile, site: Site) -> Iterator[Problem]:
    known = [plane.name for plane in site.planes]
    columns = file.said.columns
    for quantity in (POA, MODULE):
        for plane, _ in getattr(columns, quantity):
            if plane not in known:
                close = nearest(plane, known)
                yield Problem(
                    file.where(("columns", quantity, plane)),
                    f"the plane '{plane}'",
                    "a plane of this site: " + ", ".join(f"'{each}'" for each in known),
                    remedy=f"Did you mean '{close}'?" if close else _OTHER,
                )
    lit = [plane for plane, _ in columns.poa_global]
    for number, sensor in enumerate(file.said.sensors):
        if sensor.plane not in lit:
            yield Problem(
                file.where(("sensors", number, "plane")),
                f"a sensor on '{sensor.plane}', of which columns.poa_global has no light",
                "a plane of columns.poa_global",
            )


def _inverter_problems(file: DescriptionFile, site: Site, wiring: Wiring) -> Iterator[Problem]:
    said, known = file.said, [each.name for each in site.each_inverter()]
    seen: list[str] = []
    written: set[str] = set()
    found: list[Problem] = []
    for number, inverter in enumerate(said.inverters):
        at: Location = ("inverters", number)
        name = inverter.name if inverter.name is not None or len(known) > 1 else known[0]
        if name is None or name not in known:
            close = nearest(name or "", known)
            found.append(
                Problem(
                    file.where((*at, "name")),
                    f"the inverter '{name}'" if name else "no name of an inverter",
                    "an inverter of this site: " + ", ".join(f"'{each}'" for each in known),
                    remedy=f"Did you mean '{close}'?" if close else _OTHER if name else "",
                )
            )
            continue
        if name in seen:
            got = f"the inverter '{name}' again"
            found.append(Problem(file.where(at), got, "each inverter once"))
        seen.append(name)
        found += _input_problems(file, number, site, wiring)
        own = _stands(site, inverter)
        written |= {
            input_of(site, own, mppt)
            for quantity in BY_INPUT
            for mppt, _ in getattr(inverter.columns, quantity)
        }
    yield from found
    if not found:
        yield from _without_columns(file, [*map(site.input_name, wiring.trackers)], written, wiring)
        yield from _file_problems(file)
        yield from _columns_twice(file)


def _input_problems(
    file: DescriptionFile, number: int, site: Site, wiring: Wiring
) -> Iterator[Problem]:
    """Give what is wrong with the inputs of an inverter of the description."""
    inverter = file.said.inverters[number]
    own = _stands(site, inverter)
    inputs = [mppt.name for mppt in own.site.single_inverter.mppts]
    wired = {site.input_name(tracker) for tracker in wiring.trackers}
    columns = inverter.columns
    for quantity in BY_INPUT:
        for mppt, _ in getattr(columns, quantity):
            where = file.where(("inverters", number, "columns", quantity, mppt))
            if mppt not in inputs:
                close = nearest(mppt, inputs)
                yield Problem(
                    where,
                    f"the input '{mppt}'",
                    f"an input of '{own.name}': " + ", ".join(f"'{each}'" for each in inputs),
                    remedy=f"Did you mean '{close}'?" if close else _OTHER,
                )
            elif input_of(site, own, mppt) not in wired:
                yield Problem(
                    where,
                    f"the input '{mppt}', to which the wiring '{wiring.name}' has nothing wired",
                    "an input in use",
                    cause=_OTHER,
                    remedy="Name the wiring that was built, or leave the input out",
                )
    for power, counter in (("p_dc", "e_dc"), ("p_ac", "e_ac")):
        of = _both(getattr(columns, power), getattr(columns, counter))
        if of:
            where = file.where(("inverters", number, "columns", counter))
            got = f"{counter} beside {power}" + (f" of {', '.join(of)}" if of[0] else "")
            yield Problem(where, got, "one of the two", remedy="The power is the better one")


def _both(power: object, counter: object) -> list[str]:
    """Return the inputs that have power and counter; one empty name for an AC side."""
    if isinstance(power, tuple) and isinstance(counter, tuple):
        return [mppt for mppt, _ in power if mppt in dict(counter)]
    return [""] if isinstance(power, str) and isinstance(counter, str) else []


def _without_columns(
    file: DescriptionFile, wired: list[str], written: set[str], wiring: Wiring
) -> Iterator[Problem]:
    lacking = [name for name in wired if name not in written]
    if lacking:
        names = ", ".join(f"'{name}'" for name in lacking)
        yield Problem(
            file.where(("inverters",)),
            f"no column of {names}, which the wiring '{wiring.name}' uses",
            "v_dc, i_dc, p_dc or e_dc of every wired input",
            cause=_OTHER if len(lacking) == len(wired) else "",
            remedy="Name its columns, or the wiring that was built",
        )


def _file_problems(file: DescriptionFile) -> Iterator[Problem]:
    said = file.said
    lacking = [number for number, each in enumerate(said.inverters) if not each.files]
    sensors = [each.quantity for each in _sensors(file)]
    if not said.files and (lacking or sensors):
        needs = sensors[0] if sensors else "an inverter without files of its own"
        got = f"no files, and columns of {needs}"
        yield Problem(file.where(("files",)), got, "files: the tables that hold them")
    if said.files and not lacking and not sensors:
        got = "files that no column is read from"
        needed = "columns of sensors or of an inverter in them"
        yield Problem(file.where(("files",)), got, needed, remedy="Leave files out.")
    for number in lacking:
        for key in ("time", "clock"):
            if getattr(said.inverters[number].columns, key) is not None:
                where = file.where(("inverters", number, "columns", key))
                got = f"a column of its own for {key}, and no files of its own"
                yield Problem(where, got, f"columns.{key} of the common files")


def _columns_twice(file: DescriptionFile) -> Iterator[Problem]:
    """Give the columns that stand for two things: readings copied by a slip of the pen."""
    said = file.said
    groups: dict[int, list[tuple[str, str]]] = {-1: [(w.column, w.name) for w in _sensors(file)]}
    for number, inverter in enumerate(said.inverters):
        own = groups.setdefault(number if inverter.files else -1, [])
        columns, of = inverter.columns, f" of '{inverter.name}'" if inverter.name else ""
        for quantity in BY_INPUT:
            own += [(c, f"{quantity} of '{m}'{of}") for m, c in getattr(columns, quantity)]
        own += [(c, f"{q}{of}") for q in ("p_ac", "e_ac") if (c := getattr(columns, q)) is not None]
        own += [(column, f"v_ac{of}") for column in columns.v_ac]
    for pairs in groups.values():
        first: dict[str, str] = {}
        for column, name in pairs:
            if column in first:
                yield Problem(
                    file.where(()),
                    f"the column '{column}' for {first[column]} and for {name}",
                    "a column of its own for each",
                )
            first.setdefault(column, name)
