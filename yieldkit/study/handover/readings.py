"""A filled-in sheet read back: what was read, by which instruments, and what is wrong with it."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path

from yieldkit.base.errors import InputError, Problem, nearest, refuse
from yieldkit.config.site.site import Site, Wiring
from yieldkit.study.handover import cells
from yieldkit.study.handover.at_stc import at_stc, stc_sentences
from yieldkit.study.handover.form import (
    CALIBRATED,
    DATE,
    GAIN,
    HEAT,
    LIGHT,
    MAKE,
    PERSON,
    QUANTITY,
    READING,
    SERIAL,
    SHEETS_CLOCK,
    SPREAD,
    TIME,
    UNIT,
    WHAT,
    ZONE,
    cell_name,
    clock_of,
    plane_subject,
)
from yieldkit.study.handover.names import facts_by_name, named_strings, planes_in_use
from yieldkit.study.handover.plausible import (
    Sizes,
    check_problem,
    largest_of,
    light_problem,
    night_problem,
    sizes_of,
    value_problem,
)
from yieldkit.study.handover.reading import (
    CLOCK,
    INPUT,
    INSTRUMENTS,
    PLANE,
    QUANTITIES,
    STRING,
    Instrument,
    Quantity,
    Reading,
    Readings,
)
from yieldkit.study.handover.remarks import (
    clock_sentence,
    insulation_sentences,
    loud_sentences,
    not_judged,
    told_of,
)
from yieldkit.study.handover.table import Row, Table, read_table
from yieldkit.study.handover.table_wiring import wiring_of
from yieldkit.study.handover.units import TURNED, in_own_unit, turned_round

_RIGHT = ("right", "ok", "correct", "good")
_REVERSED = ("reversed", "wrong", "swapped")
_NOT_READ = ("", "-", "\u2013", "\u2014", "n/a")
_LEAVE = "Leave a blank empty that wasn't read"
_BEYOND = "Where the tester shows more than its range, write > and the range, such as > 200"
_ADD_LINES = "Names of strings and inputs stand in the sheet as the table has them"
_ONE = {STRING: "a string", INPUT: "an input", PLANE: "a plane", CLOCK: "the clock"}


def read_readings(path: str | Path, site: Site, wiring: str | None = None) -> Readings:
    """Read a filled-in sheet.

    Parameters
    ----------
    path : str or Path
        The table that `yieldkit handover` wrote, filled in, saved as CSV by any spreadsheet.
    site : Site
        The site.
    wiring : str, optional
        Name of the wiring that was built; by default the one that the table names.

    Returns
    -------
    Readings
        Readings in SI and UTC. Of those with too little light it says that nothing can be
        concluded from them.

    Raises
    ------
    InputError
        With all that is wrong, line by line.
    """
    table = read_table(path)
    chosen = wiring_of(table, site, wiring)
    work = _Work(table, site, chosen)
    for row in table.rows:
        work.take(row)
    if work.problems:
        raise InputError(work.problems)
    readings = tuple(replace(each, not_judged=not_judged(each)) for each in work.readings)
    if not readings:
        refuse(table.name, "no reading", "at least one reading in the column reading")
    facts = facts_by_name(site, chosen)
    leaks, insulated = insulation_sentences(readings, facts)
    remarks = (
        *dict.fromkeys(work.remarks),
        *told_of(readings, named_strings(site, chosen)),
        *insulated,
        *stc_sentences(at_stc(readings, facts)),
    )
    return Readings(
        chosen.name,
        readings,
        tuple(work.instruments.values()),
        work.tested_by,
        (*loud_sentences(readings), *leaks),
        remarks,
    )


@dataclass
class _Work:
    """What has been read of a table so far."""

    table: Table
    site: Site
    wiring: Wiring
    readings: list[Reading] = field(default_factory=list)
    instruments: dict[str, Instrument] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)
    tested_by: str = ""
    day: str = ""

    def __post_init__(self) -> None:
        strings = named_strings(self.site, self.wiring)
        planes = [plane_subject(each.name) for each in planes_in_use(self.site, self.wiring)]
        self.subjects = {cell_name(name): (name, PLANE) for name in planes}
        self.subjects |= {cell_name(SHEETS_CLOCK): (SHEETS_CLOCK, CLOCK)}
        self.subjects |= {cell_name(each.name): (each.name, STRING) for each in strings}
        self.subjects |= {
            cell_name(name): (name, INPUT) for name in dict.fromkeys(s.input_name for s in strings)
        }
        self.quantities = {cell_name(each.words): each for each in QUANTITIES}
        self.quantities |= {cell_name(each.key): each for each in QUANTITIES}
        self.kinds = {cell_name(name): kind for kind, (name, _) in INSTRUMENTS.items()}
        self.sizes: dict[str, Sizes] = sizes_of(self.site, self.wiring)

    def take(self, row: Row) -> None:
        """Take one line of the table."""
        what = cell_name(row[WHAT])
        if row[READING].casefold() in _NOT_READ:
            return
        if what == cell_name(PERSON):
            self.tested_by = row[READING]
        elif what in self.kinds:
            self._instrument(row, self.kinds[what])
        else:
            self._reading(row, what)

    def _where(self, row: Row, column: str) -> str:
        return f"{self.table.name}, line {row.line}, {column}"

    def _instrument(self, row: Row, kind: str) -> None:
        """Take what is said of an instrument."""
        own = self.instruments.get(kind, Instrument(kind))
        asked, words = cell_name(row[QUANTITY]), row[READING]
        if asked == cell_name(MAKE):
            own = replace(own, make=words)
        elif asked == cell_name(SERIAL):
            own = replace(own, serial=words)
        elif asked == cell_name(CALIBRATED):
            own = replace(own, calibrated=words)
        elif asked == cell_name(GAIN):
            own = replace(own, gain=self._error(row, kind))
        elif asked == cell_name(SPREAD):
            own = replace(own, reading=self._error(row, kind))
        else:
            asks = ", ".join((MAKE, SERIAL, CALIBRATED, GAIN, SPREAD))
            self.problems.append(Problem(self._where(row, QUANTITY), f"'{row[QUANTITY]}'", asks))
        self.instruments[kind] = own

    def _error(self, row: Row, kind: str) -> float:
        """Return an instrument's stated error."""
        found = cells.number(row[READING], self.table.decimal)
        if found is not None and 0.0 <= found.value <= 50.0:
            return found.value
        self.problems.append(
            Problem(
                self._where(row, READING),
                f"'{row[READING]}' as an instrument's error",
                f"a number from 0 to 50 in {INSTRUMENTS[kind][1]}",
            )
        )
        return math.nan

    def _reading(self, row: Row, what: str) -> None:
        """Take a reading."""
        quantity = self._quantity(row)
        subject = self._subject(row, what, quantity)
        if quantity is None or subject is None:
            return
        value = self._value(row, quantity, subject)
        light = self._number(row, LIGHT)
        heat = self._number(row, HEAT)
        own = list(light_problem(self._where(row, LIGHT), light, heat))
        if value is not None:
            at = self._where(row, READING)
            if subject in self.sizes:
                size, most = self.sizes[subject], largest_of(self.sizes)
                own += value_problem(at, quantity.key, value, size, most)
            else:
                own += check_problem(at, quantity.key, value, light)
        moment = self._moment(row, quantity)
        if moment is not None and value and quantity.needs_moment:
            own += night_problem(self._where(row, TIME), moment, self.site)
        self.problems += own
        if value is None or own:
            return
        self.readings.append(Reading(subject, quantity.key, value, moment, light, heat, row.line))

    def _quantity(self, row: Row) -> Quantity | None:
        found = self.quantities.get(cell_name(row[QUANTITY]))
        if found is None:
            close = nearest(row[QUANTITY], [each.words for each in QUANTITIES])
            self.problems.append(
                Problem(
                    self._where(row, QUANTITY),
                    f"'{row[QUANTITY]}'",
                    ", ".join(each.words for each in QUANTITIES),
                    remedy=f"Did you mean '{close}'?" if close else "",
                )
            )
        return found

    def _subject(self, row: Row, what: str, quantity: Quantity | None) -> str | None:
        name, of = self.subjects.get(what, (None, ""))
        if name is None:
            known = [each for each, _ in self.subjects.values()]
            close = nearest(row[WHAT], known)
            self.problems.append(
                Problem(
                    self._where(row, WHAT),
                    f"'{row[WHAT]}', which is no string, input, plane or instrument of the wiring "
                    f"'{self.wiring.name}'"
                    if row[WHAT]
                    else "a reading of nothing",
                    "the name of a string, input or plane",
                    remedy=f"Did you mean '{close}'?" if close else _ADD_LINES,
                )
            )
        elif quantity is not None and quantity.of != of:
            self.problems.append(
                Problem(
                    self._where(row, QUANTITY),
                    f"the {quantity.words} of the {of} '{name}'",
                    f"a quantity that is read of {_ONE[of]}",
                    remedy=f"It is read of {_ONE[quantity.of]}",
                )
            )
            return None
        return name

    def _value(self, row: Row, quantity: Quantity, subject: str) -> float | None:
        """Return a reading's value in SI; None with a problem where it has none."""
        where, words = self._where(row, READING), row[READING]
        if quantity.key == "polarity":
            word = words.casefold().strip(" .!")
            if word in _RIGHT or word in _REVERSED:
                return 1.0 if word in _RIGHT else -1.0
            self.problems.append(Problem(where, f"'{words}'", "right or reversed"))
            return None
        found = cells.number(words, self.table.decimal)
        if found is None:
            self.problems.append(
                Problem(
                    where,
                    f"'{words}'",
                    f"a number in {quantity.unit}",
                    cause=cells.why_no_number(words, self.table.decimal),
                    remedy=_BEYOND if quantity.unit == "Mohm" else _LEAVE,
                )
            )
            return None
        value, said = in_own_unit(found, row[UNIT], quantity, where, subject)
        if isinstance(said, Problem):
            self.problems.append(said)
            return None
        self.remarks += [said] if said else []
        if value < 0.0 and quantity.key in TURNED:
            self.remarks.append(turned_round(row.line, quantity.words))
        return abs(value) if quantity.key in TURNED else value

    def _number(self, row: Row, column: str) -> float:
        """Return a number beside a reading; nan where the cell is empty."""
        if not row[column]:
            return math.nan
        found = cells.number(row[column], self.table.decimal)
        if found is None:
            self.problems.append(
                Problem(self._where(row, column), f"'{row[column]}'", "a number, or nothing")
            )
            return math.nan
        return found.value

    def _moment(self, row: Row, quantity: Quantity) -> datetime | None:
        """Return when a reading was made, in UTC; a blank date is that of the line above."""
        own, clock = cells.split_stamp(row[DATE])
        if row[TIME]:
            other, clock = cells.split_stamp(row[TIME])
            own = own or other
        self.day = own or self.day
        where = self._where(row, DATE if clock else TIME)
        if not clock:
            if quantity.needs_moment:
                got = f"'{row[TIME]}'" if row[TIME] else "nothing"
                needed = "the time of day at which it was read, such as 12:10"
                self.problems.append(Problem(where, got, needed))
            return None
        if not self.day:
            self.problems.append(Problem(where, "nothing", "a date such as 2026-06-21"))
            return None
        on = cells.day(self.day, where, self.table.by_month)
        try:
            zone = cells.zone_of(row[ZONE] or clock_of(self.site), self._where(row, ZONE))
            when = on if isinstance(on, Problem) else cells.moment(on, clock, zone, where)
        except InputError as error:
            self.problems += error.problems
            return None
        if isinstance(when, Problem):
            self.problems.append(when)
            return None
        self.remarks.append(clock_sentence(row[ZONE], clock_of(self.site)))
        return when
