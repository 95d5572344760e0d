"""Where the photocurrent's power goes: a ledger from the solved voltages and currents.

The ledger is independent of the maxima and budgets: it takes the strings' currents as they are
and adds up what every resistance and diode turns into heat.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import FloatArray
from yieldkit.physics.circuit.diode import (
    BYPASS_IS,
    BYPASS_NVTH,
    I0,
    IL,
    RS,
    RSH,
    A,
    cell_current,
    junction_at_current,
    junction_at_voltage,
)
from yieldkit.physics.circuit.group import pair_at_current
from yieldkit.physics.circuit.layout import merged_runs, pack, pack_diodes
from yieldkit.physics.circuit.refusals import check_strings
from yieldkit.physics.circuit.types import Breakdown, Bypass, CellConditions, StringCircuit
from yieldkit.physics.compiled import compiled

SOURCE, RECOMBINATION, SHUNT, SERIES, BYPASSED, CABLE = range(6)


class Dissipation(NamedTuple):
    """Powers of a tracker's circuit, each [W] (time,).

    Parameters
    ----------
    source : ndarray
        Photocurrent times junction voltage.
    recombination : ndarray
        In the junctions' diodes.
    shunt : ndarray
        In the shunts, with any reverse breakdown.
    series : ndarray
        In the cells' series resistances.
    bypass : ndarray
        In the bypass diodes.
    cable : ndarray
        In the DC cables.
    """

    source: FloatArray
    recombination: FloatArray
    shunt: FloatArray
    series: FloatArray
    bypass: FloatArray
    cable: FloatArray

    def heat(self) -> FloatArray:
        """Return all that is turned into heat [W] (time,)."""
        return self.recombination + self.shunt + self.series + self.bypass + self.cable


@compiled
def _book_cells(vd, share, row, count, diodes, ledger):
    """Book cells at a junction voltage; `share` of the group's area. Returns their current."""
    il = share * row[IL]
    i0 = share * row[I0]
    rsh = row[RSH] / share
    current, _d, _d2 = cell_current(vd, il, i0, rsh, row[A], diodes)
    recombined = i0 * math.expm1(min(vd / row[A], 500.0))
    ledger[SOURCE] += count * il * vd
    ledger[RECOMBINATION] += count * recombined * vd
    ledger[SHUNT] += count * (il - recombined - current) * vd
    ledger[SERIES] += count * current * current * row[RS] / share
    return current


@compiled
def _book_string(current, here, runs, resistance, diodes, ledger):
    for run in range(runs.shape[0]):
        row = here[runs[run, 0]]
        count = runs[run, 2]
        if runs[run, 1] < 0:
            vd, _status = junction_at_current(
                current, row[IL], row[I0], row[RS], row[RSH], row[A], diodes, math.nan
            )
            cells = _book_cells(vd, 1.0, row, count, diodes, ledger)
            volts = vd - cells * row[RS]
        else:
            partner = here[runs[run, 1]]
            volts, _d, _d2, _status = pair_at_current(current, row, partner, diodes)
            for half in (row, partner):
                vd, _status = junction_at_voltage(
                    volts,
                    0.5 * half[IL],
                    0.5 * half[I0],
                    2.0 * half[RS],
                    2.0 * half[RSH],
                    half[A],
                    diodes,
                    math.nan,
                )
                _book_cells(vd, 0.5, half, count, diodes, ledger)
        bypass = diodes[BYPASS_IS] * math.expm1(min(-volts / diodes[BYPASS_NVTH], 500.0))
        ledger[BYPASSED] += -count * bypass * volts
    ledger[CABLE] += resistance * current * current


@compiled
def _ledgers(conditions, currents, runs, first, resistances, diodes):
    ledgers = np.zeros((conditions.shape[0], 6))
    for t in range(conditions.shape[0]):
        for s in range(currents.shape[1]):
            if math.isnan(currents[t, s]):
                ledgers[t, :] = math.nan
                break
            _book_string(
                currents[t, s],
                conditions[t],
                runs[first[s] : first[s + 1]],
                resistances[s],
                diodes,
                ledgers[t],
            )
    return ledgers


def dissipation(
    conditions: CellConditions,
    strings: Sequence[StringCircuit],
    i_string: FloatArray,
    bypass: Bypass | None = None,
    breakdown: Breakdown | None = None,
) -> Dissipation:
    """Return where the power of the photocurrents goes.

    Parameters
    ----------
    conditions : CellConditions
        Diode parameters (time, condition).
    strings : sequence of StringCircuit
        The strings of a tracker.
    i_string : ndarray
        Their currents [A] (time, string).
    bypass, breakdown : optional
        As for `operating_point`.

    Returns
    -------
    Dissipation
        Its source equals the power at the input plus its heat, by the circuit's own laws.
    """
    check_strings(strings, np.asarray(conditions.photocurrent).shape[1])
    columns = list(range(np.asarray(conditions.photocurrent).shape[1]))
    own = [merged_runs(string.runs, columns) for string in strings]
    runs = np.array(
        [
            (run.condition, -1 if run.partner is None else run.partner, run.count)
            for string in own
            for run in string
        ]
    )
    first = np.cumsum([0, *(len(string) for string in own)])
    resistances = np.array([float(string.resistance) for string in strings])
    diodes = pack_diodes(bypass, breakdown)
    ledgers = _ledgers(pack(conditions), np.asarray(i_string), runs, first, resistances, diodes)
    return Dissipation(*ledgers.T)
