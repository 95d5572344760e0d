"""The usual cautions, for every output that leads to work on cables."""

from __future__ import annotations

from typing import NamedTuple

DESIGN_AID = (
    "These figures are a design aid and not a certificate: the standard edition in force, the "
    "local code, the makers' manuals and the licensed people on site prevail."
)
"""One sentence that goes with every figure a person may build by."""


class Caution(NamedTuple):
    """One caution.

    Parameters
    ----------
    subject : str
        What it is about, in a few words.
    text : str
        What to mind, in one or two sentences.
    """

    subject: str
    text: str


CAUTIONS: tuple[Caution, ...] = (
    Caution(
        "Live in daylight",
        "Modules can't be switched off while there is light: at a twentieth of full sun a string "
        "still stands at about nine tenths of its voltage. More than 120 V DC is dangerous to "
        "touch.",
    ),
    Caution(
        "DC arcs don't go out",
        "Never part or join connectors and never pull fuses under load. First prove with a clamp "
        "meter that no current flows.",
    ),
    Caution(
        "Order of switching off",
        "Stop the inverter or open its AC side, then the DC isolator; lock and label both; wait "
        "the discharge time on the nameplate (often 5 minutes); prove zero current, then prove "
        "absence of voltage.",
    ),
    Caution(
        "Order of switching on",
        "Check polarity and open-circuit voltage of each string first, then close the DC side, "
        "then the AC side, unless the maker's manual says otherwise.",
    ),
    Caution(
        "Several strings and inputs",
        "Isolate all of them: strings in parallel feed back into one another. Never join the plus "
        "of one string to the minus of another, which can double the voltage. Check every "
        "string's polarity before paralleling; a reversed string drives a fault current.",
    ),
    Caution(
        "Connectors and cables",
        "Mate only connectors of the same make and type, closed to the maker's torque. Lay plus "
        "and minus side by side so that they enclose no area; use cable made for sun and heat, "
        "kept off sharp edges and standing water.",
    ),
    Caution(
        "Insulation test",
        "Disconnect the inverter, surge protective devices and any earthed pole before testing, "
        "keep hands off the frames, and test upstream of blocking diodes.",
    ),
    Caution(
        "AC side",
        "Disconnect, secure against reconnection, verify that it is dead, earth and short-circuit "
        "where that applies, cover live parts nearby (EN 50110-1). Two supplies feed this board: "
        "label it so.",
    ),
    Caution(
        "Who may do it",
        "Skilled or instructed people only. The connection to the network is made by a licensed "
        "or registered installer and announced to the network operator; national rules decide.",
    ),
    Caution(
        "On the roof",
        "Secure against falling. Labels for polarity and 'live in daylight', and the fire "
        "service's means of isolation, belong to the work.",
    ),
)
"""General trade practice and the makers' usual instructions; from memory, insulation test read."""


def cautions() -> tuple[str, ...]:
    """Return the cautions as sentences, the limits of the figures first."""
    return (DESIGN_AID, *(f"{caution.subject}. {caution.text}" for caution in CAUTIONS))
