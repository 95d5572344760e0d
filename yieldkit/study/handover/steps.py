"""In which order a new plant is tested, and which papers go with it."""

from __future__ import annotations

from dataclasses import dataclass

from yieldkit.design.checks.insulation import commissioning_rule


@dataclass(frozen=True)
class Part:
    """Some steps under one heading.

    Parameters
    ----------
    heading : str
        When they are done.
    steps : tuple of str
        What is done, each with a box to tick.
    """

    heading: str
    steps: tuple[str, ...]


def order_of_tests(in_parts: str) -> tuple[Part, ...]:
    """Return the steps from the switched-off plant to the running one.

    Parameters
    ----------
    in_parts : str
        How a large array's insulation is tested; nothing where that needs no word.

    References
    ----------
    The kinds of tests are those of IEC 62446-1:2016, clause 6 (from memory), polarity before
    everything else that is done to a string; the words and the rest are common practice.
    """
    agree = commissioning_rule("strings_agree").value
    curve = commissioning_rule("curve_light").value
    least = commissioning_rule("short_circuit_light").value
    steady = commissioning_rule("light_steady").value
    return (
        Part(
            "Before anything is measured",
            (
                "AC side and DC isolators of every inverter are open, locked and labelled; no "
                "string is plugged in, no two strings are joined, string fuses are out.",
                "Everything was looked at: modules, rails, connectors of one make and type, "
                "cables, labels. Frames and rails are bonded, and the bond was measured.",
                "The meter, its leads and probes are rated for the highest string voltage of this "
                "sheet in the cold, and were tried on a known source.",
            ),
        ),
        Part(
            "String by string, each alone",
            (
                "Polarity of every string, at the ends that will go into the input. A reversed one "
                "stops the work: nothing is plugged in or joined until it is right.",
                "Open-circuit voltage of every string, with the light in its plane and the "
                f"modules' temperature. Equal strings agree within {agree:g} %; a string far off "
                "its table is looked at before the next step.",
                "Short-circuit current, only with a shorting device made for the string's voltage "
                f"and current, from {least:g} W/m2 on and in light that changes by less than "
                f"{steady:g} %. Never by joining connectors by hand. Without such a device leave "
                "the blank empty: the operating current tells nearly as much.",
                "Insulation of every string at the voltage stated there, plus and minus against "
                "earth, with inverter and surge protective devices disconnected. "
                f"{in_parts}".strip(),
            ),
        ),
        Part(
            "Only when every string of an inverter is right",
            (
                "Strings are plugged into the inputs of the terminal plan, plus to plus and minus "
                "to minus; unused inputs are closed with their caps.",
                "DC isolator on: the inverter shows each input's voltage, with the right sign.",
                "Set-up values are entered, then AC on, in the order of the maker's manual.",
                "Operating voltage, current and power of every input are read in steady light of "
                f"{curve:g} W/m2 or more, with the time.",
                "The inverter stops when its AC side is opened and starts again by itself after "
                "the time of the network's rules; the DC isolator switches.",
                "Labels hang: live in daylight, two supplies, polarity, means of isolation for the "
                "fire service.",
            ),
        ),
    )


DOCUMENTS: tuple[str, ...] = (
    "Owner, address, date of start; who designed and who built it",
    "Modules and inverters: makers, types, numbers, serial numbers",
    "Wiring diagram: strings, cables, fuses, isolators, surge protection, earthing",
    "Where each string lies on the roof, with its ends",
    "Datasheets of modules, inverters, rails, cables and protective devices",
    "Manuals for operation and maintenance; how to switch off in an emergency",
    "This sheet, filled in and signed, and the readings as a file",
    "Calibration certificates of the instruments",
    "The installer's declaration and the network operator's confirmation, where the country asks",
    "Warranties, with whom to call",
)
"""What the owner gets; kinds of papers by IEC 62446-1:2016, clause 4 (from memory), our words."""
