"""What a handover sheet says, as plain values: inverters, strings, tests, papers."""

from __future__ import annotations

from dataclasses import dataclass

from yieldkit.design.roof.layout import StringRun
from yieldkit.study.handover.cloudless_day import CloudlessHour
from yieldkit.study.handover.meter import TEMP_AIR_C
from yieldkit.study.handover.points import Operating, Points
from yieldkit.study.handover.set_up import Entry
from yieldkit.study.handover.steps import Part


@dataclass(frozen=True)
class Insulation:
    """How a string's insulation is tested.

    Parameters
    ----------
    system_voltage_v : float
        1.25 times its open-circuit voltage at standard test conditions [V].
    test_voltage_v : float or None
        Voltage of the tester [V]; None where the string must not be tested at the voltage that
        the table asks for.
    least_megohm : float
        Smallest resistance of both poles together to earth [Mohm].
    verdict : str
        Of the test voltage against the modules' rating, as findings have it.
    remark : str
        What to do where that is no pass.
    rule : str
        Edition, clause and how it was known.
    """

    system_voltage_v: float
    test_voltage_v: float | None
    least_megohm: float
    verdict: str
    remark: str
    rule: str


@dataclass(frozen=True)
class SheetString:
    """One string of the sheet: where it goes, of what it is made, and what it should show.

    Parameters
    ----------
    number : int
        From 1 in the order of the inputs, as on the picture of the roof.
    name, input_name : str
        The string and its input, as findings and results have them.
    inverter : str
        The inverter.
    connector : str
        Which pair of the input's connectors.
    modules : str
        Its modules by plane.
    count : int
        Modules in series.
    planes : tuple of str
        Its planes with tilt and azimuth.
    module_types : tuple of str
        Their kinds.
    cable, fuse : str
        Its cable and its fuse, in words.
    cold_v_oc : float or None
        Highest open-circuit voltage, in the cold [V]; None where it isn't known.
    stc_v_oc, stc_i_sc : float
        At standard test conditions, by the datasheet [V], [A].
    points : Points
        What it should show, by light and temperature.
    insulation : Insulation
        Its insulation test.
    cloudless : tuple of CloudlessHour
        What it should show hour by hour below a cloudless sky, where a day was asked for.
    """

    number: int
    name: str
    input_name: str
    inverter: str
    connector: str
    modules: str
    count: int
    planes: tuple[str, ...]
    module_types: tuple[str, ...]
    cable: str
    fuse: str
    cold_v_oc: float | None
    stc_v_oc: float
    stc_i_sc: float
    points: Points
    insulation: Insulation
    cloudless: tuple[CloudlessHour, ...] = ()


@dataclass(frozen=True)
class SheetPlane:
    """One roof plane of the sheet, as it was drawn.

    Parameters
    ----------
    name : str
        What it is called.
    tilt_deg, azimuth_deg : float
        Against the horizontal, and from north through east [deg].
    """

    name: str
    tilt_deg: float
    azimuth_deg: float


@dataclass(frozen=True)
class SheetInverter:
    """One inverter of the sheet.

    Parameters
    ----------
    name, kind : str
        What it is called and what it is.
    power_kwp : float
        Modules on it [kWp].
    inputs : tuple of (str, tuple of int)
        Its inputs with the numbers of their strings; none for an input that stays idle.
    operating : tuple of (str, Operating)
        Its inputs in use, as results name them, with what each should show in operation.
    set_up : tuple of Entry
        What is entered at its first start.
    isolation : tuple of str
        How it is switched off and kept so.
    place : tuple of str
        Where it hangs and what has to stay free round it.
    """

    name: str
    kind: str
    power_kwp: float
    inputs: tuple[tuple[str, tuple[int, ...]], ...]
    operating: tuple[tuple[str, Operating], ...]
    set_up: tuple[Entry, ...]
    isolation: tuple[str, ...]
    place: tuple[str, ...]


@dataclass(frozen=True)
class Handover:
    """A handover sheet.

    Parameters
    ----------
    site_name, wiring : str
        The building and the wiring that is built.
    mark : str
        Which modules hang in which string on which input, as a short hash; readings bear it.
    invented : bool
        Whether the building is an invented one.
    made : str
        When the sheet was made, in UTC.
    clock, clock_words : str
        The clock by which times are written on it, and the same in a sentence.
    allowed : str
        What the wiring may be called.
    not_checked : str
        Which limits were not checked, in words; nothing where all were.
    power_kwp : float
        Modules in the wiring [kWp].
    inverters : tuple of SheetInverter
        In the site's order.
    strings : tuple of SheetString
        In the order of the inputs.
    planes : tuple of SheetPlane
        Those that carry modules of the wiring, in the site's order.
    layout : tuple of StringRun or None
        Where the strings lie on the roof; None where the modules' places aren't known.
    order : tuple of Part
        The order of the tests.
    documents : tuple of str
        What the owner gets.
    usual : str
        What bands of expected figures rest on, in a sentence.
    site_sha256, versions : str
        What the sheet was made from.
    day : str
        The day without a cloud of which hours are listed; nothing where none was asked for.
    temp_air : float
        Air temperature on it [degC].
    idle : tuple of str
        Inverters of the site on which no string hangs.
    """

    site_name: str
    wiring: str
    mark: str
    invented: bool
    made: str
    clock: str
    clock_words: str
    allowed: str
    not_checked: str
    power_kwp: float
    inverters: tuple[SheetInverter, ...]
    strings: tuple[SheetString, ...]
    planes: tuple[SheetPlane, ...]
    layout: tuple[StringRun, ...] | None
    order: tuple[Part, ...]
    documents: tuple[str, ...]
    usual: str
    site_sha256: str
    versions: str
    day: str = ""
    temp_air: float = TEMP_AIR_C
    idle: tuple[str, ...] = ()

    @property
    def inputs(self) -> tuple[str, ...]:
        """The inputs in use, as results name them."""
        return tuple(dict.fromkeys(each.input_name for each in self.strings))

    @property
    def idle_words(self) -> str:
        """What is done with inverters without strings; empty where there are none."""
        if not self.idle:
            return ""
        return (
            f"No string hangs on {' and '.join(self.idle)}: all inputs there stay closed with "
            "their caps."
        )

    def of(self, inverter: SheetInverter) -> tuple[SheetString, ...]:
        """Return the strings on one of its inverters."""
        return tuple(each for each in self.strings if each.inverter == inverter.name)
