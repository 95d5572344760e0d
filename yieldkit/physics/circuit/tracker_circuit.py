"""A tracker's circuit as the kernels take it, what they work with, and what they fill."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from yieldkit.base.arrays import BoolArray, FloatArray, IntArray
from yieldkit.physics.circuit.components import ReversePath
from yieldkit.physics.circuit.diode import PHOTOCURRENT
from yieldkit.physics.compiled import compiled, compiled_owning

# Columns of `TrackerCircuit.runs`.
CONDITION, PARTNER, COUNT = range(3)

OWN_COUNT = 5
"""Column of a step's conditions that has a run's number of groups in that step [1]. It stands there
behind the diode parameters only where light decides step by step which groups are one run."""

# Which solver fits a tracker: evenly lit strings, one string in uneven light, or anything.
EVEN, UNEVEN, GENERAL = range(3)

_DARK_A = 1e-9


class TrackerCircuit(NamedTuple):
    """Distinct strings in parallel.

    Parameters
    ----------
    runs : ndarray of int
        The runs of all strings, one string after the other: row of their light, row of the other
        halves' light (-1 where it is the same), and number of groups (run, 3).
    first_run : ndarray of int
        Position of each string's first run, and the end (string + 1,).
    resistances : ndarray
        Cable resistance [ohm] (string,).
    multiplicity : ndarray of int
        How many equal strings each one stands for (string,).
    blocked : ndarray of int
        1 where a blocking diode lets no current back, else 0 (string,).
    reverse : ReversePath
        Bypass diode and breakdown of every group.
    """

    runs: IntArray
    first_run: IntArray
    resistances: FloatArray
    multiplicity: IntArray
    blocked: IntArray
    reverse: ReversePath


class Workspace(NamedTuple):
    """Where the solutions of one step start, left by the last one of the same step.

    Parameters
    ----------
    currents : ndarray
        String currents [A], nan for none (string,).
    junctions : ndarray
        Junction voltages [V], nan for none (run,).
    states : ndarray
        Room for what each run's junction gave: current [A], voltage [V] and the slope of its
        junction voltage by the current [V/A] (run, 3).
    opens : ndarray
        Room for the strings' open-circuit voltages [V] (string,).
    """

    currents: FloatArray
    junctions: FloatArray
    states: FloatArray
    opens: FloatArray


class FreeMaxima(NamedTuple):
    """Unlimited maxima that are found for many steps side by side.

    Parameters
    ----------
    volts, power : ndarray
        Voltage [V] and power [W] of the greatest maximum, or of any; 0 for none (time,).
    settled : ndarray of bool
        Whether it is known to be the greatest (time,); where not, other solvers find that.
    """

    volts: FloatArray
    power: FloatArray
    settled: BoolArray


class Outputs(NamedTuple):
    """What a solver fills, step by step.

    Parameters
    ----------
    v_dc, i_dc, p_dc : ndarray
        Voltage [V], mean current [A] and mean power [W] of the operating point (time,).
    p_lost : ndarray
        Power that limits cost against the free maximum [W] (time,).
    i_string : ndarray
        String currents [A] (time, string).
    binding : ndarray of int8
        What determines the point, a code of `limits` (time,).
    status : ndarray of int8
        0 where the equations were met, 1 where not (time,).
    """

    v_dc: FloatArray
    i_dc: FloatArray
    p_dc: FloatArray
    p_lost: FloatArray
    i_string: FloatArray
    binding: IntArray
    status: IntArray


def workspace_for(circuit: TrackerCircuit) -> Workspace:
    """Return a workspace for a tracker; `clear_starts` makes it ready for a step.

    Parameters
    ----------
    circuit : TrackerCircuit
        The tracker.

    Returns
    -------
    Workspace
    """
    strings, runs = circuit.multiplicity.shape[0], circuit.runs.shape[0]
    return Workspace(np.empty(strings), np.empty(runs), np.empty((runs, 3)), np.empty(strings))


new_workspace = compiled_owning(workspace_for)


@compiled_owning
def no_junctions(number):
    """Return junction voltages of which none is known yet.

    Parameters
    ----------
    number : int
        How many.

    Returns
    -------
    ndarray
        Only nan [V] (number,).
    """
    junctions = np.empty(number)
    junctions[:] = math.nan
    return junctions


@compiled
def clear_starts(workspace):
    """Clear all starts: for a new step, or a voltage far away.

    Parameters
    ----------
    workspace : Workspace
        Its currents and junction voltages become nan.
    """
    workspace.currents[:] = math.nan
    workspace.junctions[:] = math.nan


@compiled
def groups_in_series(conditions, runs, run):
    """Return the number of groups of a run: the step's own where it has one.

    Parameters
    ----------
    conditions : ndarray
        Diode parameters of this step [A, A, ohm, ohm, V], and `OWN_COUNT` where runs have as many
        groups as their light decides (condition, 5 or 6).
    runs : ndarray of int
        As of `TrackerCircuit` (run, 3).
    run : int
        Which run.

    Returns
    -------
    float
        [1].
    """
    if conditions.shape[1] > OWN_COUNT:
        return conditions[runs[run, CONDITION], OWN_COUNT]
    return float(runs[run, COUNT])


def new_free_maxima(steps: int) -> FreeMaxima:
    """Return unlimited maxima of which none is known yet.

    Parameters
    ----------
    steps : int
        Length of time.
    """
    return FreeMaxima(np.zeros(steps), np.zeros(steps), np.zeros(steps, dtype=np.bool_))


@compiled
def brightest_photocurrent(conditions, runs):
    """Return the greatest photocurrent of the lights that runs use.

    Parameters
    ----------
    conditions : ndarray
        Diode parameters of this step [A, A, ohm, ohm, V] (condition, 5).
    runs : ndarray of int
        As of `TrackerCircuit` (run, 3).

    Returns
    -------
    float
        [A]; nan where any of their parameters is missing.
    """
    brightest = 0.0
    for run in range(runs.shape[0]):
        for column in (CONDITION, PARTNER):
            condition = runs[run, column]
            if condition < 0:
                continue
            for place in range(conditions.shape[1]):
                if math.isnan(conditions[condition, place]):
                    return math.nan
            brightest = max(brightest, conditions[condition, PHOTOCURRENT])
    return brightest


@compiled
def most_current(conditions, circuit):
    """Return a bound on the tracker's current at voltages above zero.

    Parameters
    ----------
    conditions : ndarray
        Diode parameters of this step [A, A, ohm, ohm, V] (condition, 5).
    circuit : TrackerCircuit
        The tracker.

    Returns
    -------
    float
        [A].
    """
    total = 0.0
    for s in range(circuit.multiplicity.shape[0]):
        top = 0.0
        for run in range(circuit.first_run[s], circuit.first_run[s + 1]):
            top = max(top, conditions[circuit.runs[run, CONDITION], PHOTOCURRENT])
            if circuit.runs[run, PARTNER] >= 0:
                top = max(top, conditions[circuit.runs[run, PARTNER], PHOTOCURRENT])
        total += circuit.multiplicity[s] * top
    return total


@compiled
def is_lit(photocurrent):
    """Return whether a photocurrent is more than darkness.

    Parameters
    ----------
    photocurrent : float
        [A]; a missing one is not lit.

    Returns
    -------
    bool
    """
    return photocurrent > _DARK_A


def brightest_photocurrents(conditions: FloatArray, runs: IntArray) -> FloatArray:
    """Return for steps what `brightest_photocurrent` returns for one [A] (time,).

    Parameters
    ----------
    conditions : ndarray
        Diode parameters [A, A, ohm, ohm, V] (time, condition, 5).
    runs : ndarray of int
        As of `TrackerCircuit` (run, 3).
    """
    lights = np.unique(runs[:, [CONDITION, PARTNER]])
    used = conditions[:, lights[lights >= 0]]
    brightest: FloatArray = used[..., PHOTOCURRENT].max(axis=1)
    brightest[np.isnan(used).any(axis=(1, 2))] = math.nan
    return brightest


def lit_ones(photocurrents: FloatArray) -> BoolArray:
    """Return which of several photocurrents [A] are more than darkness; a missing one isn't."""
    lit: BoolArray = photocurrents > _DARK_A
    return lit
