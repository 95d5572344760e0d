"""The main road: a site, one of its wirings and weather in, a Dataset of hourly results out."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
import pandas as pd
import xarray as xr

from yieldkit.base.progress import Progress, silent
from yieldkit.base.quantities import flags, stamp
from yieldkit.config.site.site import Site, Wiring
from yieldkit.design.checks.limits import named_wiring
from yieldkit.physics.ac.limits import AC_LIMIT
from yieldkit.physics.circuit.api import BINDING
from yieldkit.study.simulation.ac_chain import Accounts
from yieldkit.study.simulation.ac_side import AlternatingSide, alternating_side
from yieldkit.study.simulation.budget_steps import STEPS, left_out
from yieldkit.study.simulation.dc_side import DirectSide, direct_sides
from yieldkit.study.simulation.inputs import Inputs, inputs_of
from yieldkit.study.simulation.loss_budget import LossBudget, loss_budget, modules_wired
from yieldkit.study.simulation.period import WEATHER_STATE, weather_state
from yieldkit.study.simulation.prepare import Prepared, prepare
from yieldkit.study.simulation.provenance import provenance
from yieldkit.study.simulation.self_use import why_upper_bound
from yieldkit.study.simulation.trackers import Solutions
from yieldkit.study.simulation.unsolved import solvable, without_steps
from yieldkit.study.simulation.weather import site_weather
from yieldkit.study.simulation.within_step import not_within

_STEPS, _STAGES = pd.Index(STEPS), pd.Index(["nameplate", *STEPS])


def simulate(
    site: Site, wiring: str | None = None, weather: xr.Dataset | None = None
) -> xr.Dataset:
    """Simulate one wiring of a site hour by hour.

    Parameters
    ----------
    site : Site
        The building, its planes, inverter and wirings.
    wiring : str, optional
        Name of the wiring; the site's first if left out.
    weather : Dataset, optional
        Canonical weather; read from the site's own source if left out.

    Returns
    -------
    Dataset
        Irradiance and temperatures (time, plane), voltage, current, power and binding limit
        (time, tracker), AC power (time), the loss budget (loss_step) and energies.

    Raises
    ------
    InputError
        If the site has no such wiring, or the weather can't be read.
    """
    wired = named_wiring(site, wiring)
    prepared = prepare(site, site_weather(site) if weather is None else weather)
    _, results = simulate_wirings(prepared, (wired,), silent)
    return results[0]


class Simulated(NamedTuple):
    """A simulated wiring, before it is put into a Dataset.

    Parameters
    ----------
    prepared : Prepared
        What all wirings of the site share.
    wiring : Wiring
        The wiring.
    inputs : Inputs
        Its inputs with their points.
    alternating : AlternatingSide
        Its AC side.
    budget : LossBudget
        Its losses.
    """

    prepared: Prepared
    wiring: Wiring
    inputs: Inputs
    alternating: AlternatingSide
    budget: LossBudget


def simulate_wirings(
    prepared: Prepared, wirings: Sequence[Wiring], progress: Progress
) -> tuple[Prepared, list[xr.Dataset]]:
    """Simulate wirings on the same steps: those that have a solution for all of them.

    Parameters
    ----------
    prepared : Prepared
        What the wirings share.
    wirings : sequence of Wiring
        The wirings.
    progress : callable
        Called with "wirings", how many are solved and how many there are.

    Returns
    -------
    tuple of (Prepared, list of Dataset)
        The site, its weather without the steps left out, and each wiring's result.
    """
    prepared, found = solved_wirings(prepared, wirings, progress)
    return prepared, [as_dataset(each) for each in found]


def solved_wirings(
    prepared: Prepared, wirings: Sequence[Wiring], progress: Progress
) -> tuple[Prepared, list[Simulated]]:
    """Simulate wirings like `simulate_wirings`, without Datasets.

    Parameters
    ----------
    prepared, wirings, progress
        As there.
    """
    prepared, solutions = solvable(prepared, wirings, Solutions(), progress)
    results = []
    for wiring in wirings:
        directs = direct_sides(prepared, wiring, solutions)
        alternating = alternating_side(prepared, directs)
        # What a limit holds back is solved once more, and that may fail where all else went well.
        unsolved = np.any([own.unsolved.any(axis=1) for own in alternating.points], axis=0)
        lacking = unsolved & prepared.present
        if lacking.any():
            return solved_wirings(without_steps(prepared, lacking), wirings, progress)
        results.append(booked(prepared, wiring, directs, alternating))
    return prepared, results


def simulate_prepared(prepared: Prepared, wiring: Wiring, solutions: Solutions) -> xr.Dataset:
    """Simulate a wiring on a prepared site; circuits solved before are taken from `solutions`.

    Parameters
    ----------
    prepared : Prepared
        What all wirings of the site share.
    wiring : Wiring
        The wiring to simulate.
    solutions : Solutions
        Circuits solved so far; filled on the way.

    Returns
    -------
    Dataset
        As `simulate`.
    """
    directs = direct_sides(prepared, wiring, solutions)
    return as_dataset(booked(prepared, wiring, directs, alternating_side(prepared, directs)))


def booked(
    prepared: Prepared,
    wiring: Wiring,
    directs: tuple[DirectSide, ...],
    alternating: AlternatingSide,
) -> Simulated:
    """Book the losses of a wiring whose two sides are solved.

    Parameters
    ----------
    prepared : Prepared
        What all wirings share.
    wiring : Wiring
        The wiring.
    directs : tuple of DirectSide
        Its solved trackers, inverter by inverter.
    alternating : AlternatingSide
        Its AC side.
    """
    inputs = inputs_of(prepared.site, wiring, directs, alternating.points)
    budget = loss_budget(prepared, wiring, inputs.states, alternating.chain)
    return Simulated(prepared, wiring, inputs, alternating, budget)


def as_dataset(simulated: Simulated) -> xr.Dataset:
    """Return a simulated wiring as the Dataset that `simulate` gives."""
    return _dataset(*simulated)


def _dataset(
    prepared: Prepared,
    wiring: Wiring,
    inputs: Inputs,
    alternating: AlternatingSide,
    budget: LossBudget,
) -> xr.Dataset:
    per_tracker, per_inverter = ("time", "tracker"), ("time", "inverter")
    site = prepared.site
    final, fed, accounts = inputs.points, alternating.fed, alternating.accounts
    planes = prepared.planes.variables
    variables: dict[str, Any] = {
        **{str(name): planes[name] for name in prepared.planes.data_vars},
        "weather_state": ("time", weather_state(prepared.weather), flags(WEATHER_STATE)),
        "temp_air": ("time", prepared.weather.variables["temp_air"].to_numpy()),
        "temp_inlet": (per_inverter, alternating.temp_inlet),
        "v_dc": (per_tracker, final.v_dc),
        "i_dc": (per_tracker, final.i_dc),
        "p_dc": (per_tracker, final.p_dc),
        "p_dc_available": (per_tracker, inputs.p_dc_available),
        "binding_limit": (per_tracker, final.binding, flags(BINDING)),
        "i_string": (("time", "string"), final.i_string),
        "p_cable_loss": (per_tracker, final.p_cable_loss),
        "p_ac_unlimited": ("time", alternating.chain.converted),
        "p_ac_cap": (per_inverter, alternating.p_ac_cap),
        "p_held_back": (per_inverter, alternating.p_held_back),
        "p_ac": ("time", alternating.p_ac),
        "q_ac": (per_inverter, fed.q),
        "ac_limit": (per_inverter, alternating.ac_limit, flags(AC_LIMIT)),
        "voltage_clamped": ("time", alternating.clamped.astype(np.int8)),
        "v_ac": (per_inverter, fed.v_ac),
        "v_connection": ("time", fed.v_meter),
        "off_fraction": (per_inverter, alternating.off_fraction),
        "p_lead_loss": ("time", alternating.p_lead_loss),
        "p_delivered": ("time", alternating.chain.fluctuating),
        "p_load": ("time", accounts.load),
        "p_self_use": ("time", accounts.self_use),
        "p_export": ("time", accounts.export),
        "p_import": ("time", accounts.imported),
        "loss_budget": ("loss_step", np.array([budget.steps[name] for name in STEPS])),
        "potential": (
            "stage",
            budget.nameplate_kwh - np.cumsum([0.0, *budget.steps.values()]),
        ),
        "tracker_energy": ("tracker", np.array([prepared.total(each) for each in final.p_dc.T])),
        "plane_irradiation": (
            "plane",
            np.array([prepared.total(each) for each in planes["poa_global"].to_numpy().T]),
        ),
        "modules_wired": ("plane", modules_wired(prepared, wiring)),
        "modules": ("plane", np.array([plane.modules for plane in site.planes])),
        "tracker_inverter": ("tracker", inputs.inverter),
        "string_tracker": ("string", inputs.string_tracker),
        "string_modules": ("string", inputs.string_modules),
    }
    coords = {
        "time": planes["time"],
        "plane": planes["plane"],
        "tracker": list(inputs.names),
        "string": list(inputs.string_names),
        "inverter": [one.name for one in site.each_inverter()],
        "loss_step": _STEPS,
        "stage": _STAGES,
    }
    result = stamp(xr.Dataset(variables, coords=coords))
    result.attrs = attributes(prepared, wiring, alternating, budget)
    return result


def attributes(
    prepared: Prepared, wiring: Wiring, alternating: AlternatingSide, budget: LossBudget
) -> dict[str, str | int | float]:
    """Return what `simulate` tells beside the series: energies, hours, period and provenance.

    Parameters
    ----------
    prepared, wiring, alternating, budget
        As of `Simulated`.
    """
    site = prepared.site
    drawn = np.array([plane.modules for plane in site.planes])
    kwp = float(prepared.module_power @ drawn) / 1000.0
    return {
        "site": site.site.name,
        "wiring": wiring.name,
        "energy_kwh": budget.delivered_kwh,
        "kwp": kwp,
        "kwh_per_kwp": budget.delivered_kwh / kwp,
        "clipped_hours": prepared.hours(alternating.clipped),
        "derated_hours": prepared.hours(alternating.derated),
        **_account_energies(prepared, alternating.accounts),
        "self_use_upper_bound": why_upper_bound(prepared),
        "budget_closure": budget.closure,
        **prepared.period.attributes(),
        "unsolved_steps": prepared.unsolved_steps,
        "weather_remarks": " ".join(prepared.remarks),
        "left_out": ", ".join((*left_out(site), *not_within(site, prepared.within))),
        **_between(prepared, alternating),
        "weather_distance_km": prepared.distance_km,
        **provenance(site, prepared.weather),
    }


def _between(prepared: Prepared, alternating: AlternatingSide) -> dict[str, float]:
    """Return what is delivered at most and at least by what the steps hide [kWh], where asked."""
    if alternating.least is None:
        return {}
    return {
        "even_light_kwh": prepared.total(alternating.chain.available),
        "all_or_nothing_kwh": prepared.total(alternating.least),
    }


def _account_energies(prepared: Prepared, accounts: Accounts) -> dict[str, float]:
    """Return load, self-use, export and import [kWh]."""
    names = ("load_kwh", "self_use_kwh", "export_kwh", "import_kwh")
    return {name: prepared.total(power) for name, power in zip(names, accounts, strict=True)}
