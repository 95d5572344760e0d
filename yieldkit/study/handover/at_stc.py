"""Readings carried over to standard test conditions, beside the datasheet's figures."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

import numpy as np

from yieldkit.design.checks.insulation import commissioning_rule
from yieldkit.design.checks.wired import StringFacts
from yieldkit.physics.module.translation import (
    STC,
    Coefficients,
    State,
    procedure_1,
    procedure_2,
)
from yieldkit.study.handover.reading import Reading

_SOURCE = "IEC 60891:2009, voltage by procedure 2, current by procedure 1 (from memory)"


class AtStc(NamedTuple):
    """A reading at standard test conditions.

    Parameters
    ----------
    reading : Reading
        As it was read.
    value : float
        At 1000 W/m2 and 25 degC [V] or [A].
    datasheet : float
        What the modules' datasheet says of it [V] or [A].
    """

    reading: Reading
    value: float
    datasheet: float


def at_stc(readings: Sequence[Reading], strings: Mapping[str, StringFacts]) -> tuple[AtStc, ...]:
    """Return open-circuit voltages and short-circuit currents at standard test conditions.

    Parameters
    ----------
    readings : sequence of Reading
        All readings; those without light and temperature beside them, or in less light than
        curves are read in, are left out, and so are currents of strings of several planes.
    strings : mapping of str to StringFacts
        What is known of each string, by name.

    Returns
    -------
    tuple of AtStc
        Voltages by procedure 2 of IEC 60891:2009, currents by procedure 1; the modules' back is
        taken for their cells.
    """
    least = commissioning_rule("curve_light").value
    found = []
    for each in readings:
        string = strings.get(each.subject)
        told = each.poa_global >= least and each.temp_module == each.temp_module
        if string is None or not told or each.not_judged:
            continue
        if each.quantity == "v_oc" and each.value > 0.0:
            found.append(_voltage(each, string))
        elif each.quantity == "i_sc" and len({plane.name for _, plane, *_ in string.groups}) == 1:
            found.append(_current(each, string))
    return tuple(one for one in found if one.value == one.value)


def _voltage(reading: Reading, string: StringFacts) -> AtStc:
    own = [(count, facts) for count, _, facts, _ in string.groups]
    v_oc = sum(count * facts.v_oc for count, facts in own)
    betas = [np.nan if facts.beta_voc is None else facts.beta_voc for _, facts in own]
    beta = sum(count * each for (count, _), each in zip(own, betas, strict=True)) / v_oc
    rise = sum(count * facts.fit.reference.n_ns_vth for count, facts in own) / v_oc
    state = State(reading.poa_global, reading.temp_module)
    volts, _ = procedure_2(
        np.array([reading.value]),
        np.zeros(1),
        reading.value,
        Coefficients(0.0, beta, a=rise),
        state,
        STC,
    )
    return AtStc(reading, float(volts[0]), v_oc)


def _current(reading: Reading, string: StringFacts) -> AtStc:
    facts = min((facts for _, _, facts, _ in string.groups), key=lambda own: own.i_sc)
    own = Coefficients(facts.fit.reference.alpha_sc, 0.0)
    state = State(reading.poa_global, reading.temp_module)
    shorted = np.zeros(1), np.array([reading.value])
    _, amperes = procedure_1(*shorted, reading.value, own, state, STC)
    return AtStc(reading, float(amperes[0]), facts.i_sc)


def stc_sentences(found: Sequence[AtStc]) -> Iterator[str]:
    """Give one sentence on all that was carried over, if anything was.

    Parameters
    ----------
    found : sequence of AtStc
        From `at_stc`.
    """
    by_string: dict[str, list[str]] = {}
    for each in found:
        unit = "V" if each.reading.quantity == "v_oc" else "A"
        by_string.setdefault(each.reading.subject, []).append(
            f"{each.value:.4g} {unit} (datasheet {each.datasheet:.4g})"
        )
    told = "; ".join(f"{name} {', '.join(own)}" for name, own in by_string.items())
    if told:
        yield f"Carried over to 1000 W/m2 and 25 degC by {_SOURCE}: {told}."
