"""What was read on the roof and at the inverters: plain records, each with the line it stood in."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime

STRING, INPUT, PLANE, CLOCK = "string", "input", "plane", "clock"
"""What a quantity is read of."""


@dataclass(frozen=True)
class Quantity:
    """A quantity that the sheet has a blank for.

    Parameters
    ----------
    key : str
        Its name in this program.
    words : str
        Its name on the sheet.
    unit : str
        The unit its blank asks for.
    si : float
        What one such unit is in SI.
    of : str
        STRING, INPUT, PLANE or CLOCK.
    needs_moment : bool
        Whether a reading of it says nothing without date and time.
    """

    key: str
    words: str
    unit: str
    si: float
    of: str
    needs_moment: bool = True


QUANTITIES: tuple[Quantity, ...] = (
    Quantity("polarity", "polarity", "right or reversed", 1.0, STRING, needs_moment=False),
    Quantity("v_oc", "open-circuit voltage", "V", 1.0, STRING),
    Quantity("i_sc", "short-circuit current", "A", 1.0, STRING),
    Quantity("insulation_plus", "insulation, plus to earth", "Mohm", 1e6, STRING, False),
    Quantity("insulation_minus", "insulation, minus to earth", "Mohm", 1e6, STRING, False),
    Quantity("v_dc", "operating voltage", "V", 1.0, INPUT),
    Quantity("i_dc", "operating current", "A", 1.0, INPUT),
    Quantity("p_dc", "operating power", "W", 1.0, INPUT),
    Quantity("tilt", "tilt", "deg", 1.0, PLANE, needs_moment=False),
    Quantity("azimuth", "azimuth from north through east", "deg", 1.0, PLANE, needs_moment=False),
    Quantity("poa_second", "irradiance by a second sensor", "W/m2", 1.0, PLANE, needs_moment=False),
    Quantity("clock_ahead", "ahead of the right time", "min", 1.0, CLOCK, needs_moment=False),
)
"""Everything that can be read, in the order of the tests."""


@dataclass(frozen=True)
class Reading:
    """One reading.

    Parameters
    ----------
    subject : str
        Name of the string or input, as `named_strings` and results have it; "plane" and its name,
        or the sheet's clock.
    quantity : str
        Key of one of `QUANTITIES`.
    value : float
        In SI: V, A, W, ohm, W/m2; degrees and minutes stay; polarity is 1 for right and -1 for
        reversed. A voltage read with a minus keeps it.
    moment : datetime or None
        When it was read, aware, in UTC.
    poa_global : float
        In-plane irradiance read with it, in the plane of the string's first modules, or by the
        first sensor beside a second one [W/m2]; nan where none was.
    temp_module : float
        Temperature of the modules read with it [degC]; nan where none was.
    line : int
        Its line in the file.
    not_judged : str
        Why nothing can be concluded from it; empty where something can.
    """

    subject: str
    quantity: str
    value: float
    moment: datetime | None = None
    poa_global: float = math.nan
    temp_module: float = math.nan
    line: int = 0
    not_judged: str = ""


@dataclass(frozen=True)
class Instrument:
    """An instrument, as far as the sheet says.

    Parameters
    ----------
    kind : str
        Key of one of `INSTRUMENTS`.
    make, serial, calibrated : str
        Make and type, serial number and date of calibration, as they were written.
    gain : float
        Its stated error that is the same in all readings, in % or, of a thermometer, K; nan where
        none is stated.
    reading : float
        Its stated error that differs from reading to reading, likewise.
    """

    kind: str
    make: str = ""
    serial: str = ""
    calibrated: str = ""
    gain: float = math.nan
    reading: float = math.nan


INSTRUMENTS: dict[str, tuple[str, str]] = {
    "voltmeter": ("voltmeter", "%"),
    "ammeter": ("clamp or shunt for current", "%"),
    "irradiance": ("irradiance sensor", "%"),
    "temperature": ("module thermometer", "K"),
    "insulation": ("insulation tester", "%"),
}
"""Kind of instrument: its name on the sheet and the unit of its errors."""


@dataclass(frozen=True)
class Readings:
    """What a filled-in sheet says.

    Parameters
    ----------
    wiring : str
        Name of the wiring it is of.
    readings : tuple of Reading
        In the order of the file.
    instruments : tuple of Instrument
        Those of which anything was written.
    tested_by : str
        Who read, as it was written.
    loud : tuple of str
        What must be said before anything else: reversed polarity, and what not to touch.
    remarks : tuple of str
        What must be told of the readings: units taken over, light that changed, what is missing.
    """

    wiring: str
    readings: tuple[Reading, ...]
    instruments: tuple[Instrument, ...] = ()
    tested_by: str = ""
    loud: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()

    def of(self, subject: str, quantity: str | None = None) -> tuple[Reading, ...]:
        """Return the readings of a string or input, of one quantity or all."""
        return tuple(
            each
            for each in self.readings
            if each.subject == subject and quantity in (None, each.quantity)
        )

    @property
    def judged(self) -> tuple[Reading, ...]:
        """The readings from which something can be concluded."""
        return tuple(each for each in self.readings if not each.not_judged)

    def instrument(self, kind: str) -> Instrument:
        """Return the instrument of a kind; one of which nothing is known if none was written."""
        found = [each for each in self.instruments if each.kind == kind]
        return found[0] if found else Instrument(kind)
