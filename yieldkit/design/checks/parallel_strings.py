"""Strings in parallel: unequal ones, and what they feed back into one another."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from yieldkit.config.site.site import Site
from yieldkit.design.checks.findings import (
    COSTS_YIELD,
    NOT_PERMITTED,
    PASSES,
    Finding,
    at_most,
    not_applicable,
)
from yieldkit.design.checks.string_current import backfeed, by_tracker
from yieldkit.design.checks.wired import StringFacts
from yieldkit.physics.circuit import api as circuit
from yieldkit.physics.module import datasheet

_BRIGHT_W_M2 = 1000.0
_STC_C = 25.0


def parallel(site: Site, strings: tuple[StringFacts, ...]) -> Iterator[Finding]:
    """Check trackers with several strings for unequal lengths and types and reverse current."""
    for name, own in by_tracker(strings).items():
        if len(own) == 1:
            why = "One string on this input."
            yield not_applicable("parallel strings of equal length", name, why)
            yield _reverse(name, own, *backfeed(site))
            continue
        lengths = sorted(string.modules for string in own)
        kinds = {facts.name for string in own for _, _, facts, _ in string.groups}
        unequal = lengths[0] != lengths[-1] or len(kinds) > 1
        yield Finding(
            "parallel strings of equal length",
            name,
            COSTS_YIELD if unequal else PASSES,
            float(lengths[-1] - lengths[0]),
            0.0,
            "modules",
            "circuit; the loss is in the budget as parallel mismatch",
            f"Strings of {' and '.join(map(str, lengths))} modules work at one voltage; make them "
            "equal or give each its own input."
            if unequal
            else "",
        )
        yield _reverse(name, own, *backfeed(site))


def reverse_current(own: tuple[StringFacts, ...]) -> float:
    """Return the largest current fed backwards into a string when nothing is drawn [A].

    All modules at 1000 W/m2 and 25 degC, from the solved circuit.
    """
    circuits, conditions = _unloaded(own)
    currents = circuit.currents_at_open_circuit(conditions, circuits)
    return float(max(-currents.min(), 0.0))


def _unloaded(
    own: tuple[StringFacts, ...],
) -> tuple[tuple[circuit.StringCircuit, ...], circuit.CellConditions]:
    kinds = {facts.name: (facts, module) for s in own for _, _, facts, module in s.groups}
    columns = {name: index for index, name in enumerate(kinds)}
    parts = []
    for facts, module in kinds.values():
        found = datasheet.diode_parameters(facts.fit, np.array([_BRIGHT_W_M2]), np.array([_STC_C]))
        scale = np.array(
            [
                1.0,
                1.0,
                1.0 / module.bypass_diodes,
                1.0 / module.bypass_diodes,
                1.0 / module.bypass_diodes,
            ]
        )
        parts.append(np.array([part[0] for part in found]) * scale)
    table = np.array(parts).T[:, None, :]
    circuits = tuple(
        circuit.StringCircuit(
            tuple(
                circuit.Run(columns[facts.name], count * module.bypass_diodes)
                for count, _, facts, module in string.groups
            ),
            blocking_diode=string.mppt.blocking_diodes,
        )
        for string in own
    )
    return circuits, circuit.CellConditions(*table)


def _reverse(
    name: str, own: tuple[StringFacts, ...], backfeed_a: float, backfeed_note: str
) -> Finding:
    check = "reverse current of unloaded strings"
    if len(own) == 1 and backfeed_a == 0.0:
        why = f"One string on this input, {backfeed_note}."
        return not_applicable(check, name, why, essential=True)
    blocked = own[0].mppt.blocking_diodes
    fed_back = 0.0 if blocked else backfeed_a
    alone = 0.0 if len(own) == 1 else reverse_current(own)
    ratings = [module.max_ocpr_a for string in own for *_, module in string.groups]
    # Fuses don't raise what the modules bear; what they are rated at is a check of its own.
    limit = None if None in ratings else min(value for value in ratings if value is not None)
    return at_most(
        check,
        name,
        alone + fed_back,
        limit,
        "A",
        "solved circuit at 1000 W/m2 against I_MOD_MAX_OCPR (IEC 61730-2 MST 26 tests 1.35 times); "
        + backfeed_note
        + (", kept out by the blocking diodes" if blocked and backfeed_a else ""),
        missing="The module's maximum overcurrent protection rating",
        advice="Make the strings equally long, or give each an input of its own."
        if alone > 0.0
        else "Fit string fuses, or choose an inverter with less backfeed.",
        over=NOT_PERMITTED,
        essential=True,
    )
