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
from yieldkit.physics.circuit.components import Breakdown, Bypass, CellConditions, StringCircuit
from yieldkit.physics.circuit.diode import cell_current, diode_at, half_of
from yieldkit.physics.circuit.group import pair_at_current
from yieldkit.physics.circuit.junction import junction_at_current, junction_at_voltage
from yieldkit.physics.circuit.layout import merged_runs, pack, pack_runs, reverse_path
from yieldkit.physics.circuit.refusals import check_strings
from yieldkit.physics.circuit.series_string import SeriesString
from yieldkit.physics.circuit.tracker_circuit import CONDITION, PARTNER, groups_in_series
from yieldkit.physics.compiled import compiled, compiled_owning

# Columns of a ledger.
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
def _book_cells(vd, cells, count, breakdown, ledger):
    """Book cells at a junction voltage.

    Parameters
    ----------
    vd : float
        Junction voltage [V].
    cells : Diode
        The cells: a whole group's, or half a group's.
    count : int
        How many such groups.
    breakdown : Breakdown
        The cells' breakdown in reverse.
    ledger : ndarray
        Powers [W] (6,); updated.

    Returns
    -------
    float
        Their current [A].
    """
    current, _d, _d2 = cell_current(vd, cells, breakdown)
    recombined = cells.saturation_current * math.expm1(min(vd / cells.n_ns_vth, 500.0))
    ledger[SOURCE] += count * cells.photocurrent * vd
    ledger[RECOMBINATION] += count * recombined * vd
    ledger[SHUNT] += count * (cells.photocurrent - recombined - current) * vd
    ledger[SERIES] += count * current * current * cells.resistance_series
    return current


@compiled
def _book_string(current, string, ledger):
    """Book a string at a current.

    Parameters
    ----------
    current : float
        String current [A].
    string : SeriesString
        The string.
    ledger : ndarray
        Powers [W] (6,); updated.
    """
    reverse = string.reverse
    for run in range(string.runs.shape[0]):
        diode = diode_at(string.conditions, string.runs[run, CONDITION])
        count = groups_in_series(string.conditions, string.runs, run)
        if string.runs[run, PARTNER] < 0:
            vd, _status = junction_at_current(current, diode, reverse, math.nan)
            cells = _book_cells(vd, diode, count, reverse.breakdown, ledger)
            volts = vd - cells * diode.resistance_series
        else:
            partner = diode_at(string.conditions, string.runs[run, PARTNER])
            volts, _d, _d2, _status = pair_at_current(current, diode, partner, reverse)
            for whole in (diode, partner):
                half = half_of(whole)
                vd, _status = junction_at_voltage(volts, half, reverse.breakdown, math.nan)
                _book_cells(vd, half, count, reverse.breakdown, ledger)
        exponent = min(-volts / reverse.bypass.n_vth, 500.0)
        bypass = reverse.bypass.saturation_current * math.expm1(exponent)
        ledger[BYPASSED] += -count * bypass * volts
    ledger[CABLE] += string.resistance * current * current


@compiled_owning
def _ledgers(conditions, currents, runs, first_run, resistances, reverse):
    """Return the ledgers of all steps.

    Parameters
    ----------
    conditions : ndarray
        Diode parameters [A, A, ohm, ohm, V] (time, condition, 5).
    currents : ndarray
        String currents [A] (time, string).
    runs, first_run : ndarray of int
        Runs (run, 3) and where each string's begin (string + 1,), as of `TrackerCircuit`.
    resistances : ndarray
        Cable resistances [ohm] (string,).
    reverse : ReversePath
        Bypass diode and breakdown of every group.

    Returns
    -------
    ndarray
        Powers [W] (time, 6); nan where a current is missing.
    """
    ledgers = np.zeros((conditions.shape[0], 6))
    for t in range(conditions.shape[0]):
        for s in range(currents.shape[1]):
            if math.isnan(currents[t, s]):
                for place in range(ledgers.shape[1]):
                    ledgers[t, place] = math.nan
                break
            own = runs[first_run[s] : first_run[s + 1]]
            string = SeriesString(conditions[t], own, resistances[s], reverse)
            _book_string(currents[t, s], string, ledgers[t])
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
    merged = [string._replace(runs=merged_runs(string.runs, columns)) for string in strings]
    runs, first_run = pack_runs(merged)
    resistances = np.array([float(string.resistance) for string in strings])
    reverse = reverse_path(bypass, breakdown)
    currents = np.asarray(i_string)
    ledgers = _ledgers(pack(conditions), currents, runs, first_run, resistances, reverse)
    return Dissipation(*ledgers.T)
