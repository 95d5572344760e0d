"""Inputs and inverters of a log whose columns repeat another's: which of the two isn't its own."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from yieldkit.base.arrays import BoolArray, FloatArray
from yieldkit.config.site.site import Site
from yieldkit.study.logs.columns import own_columns
from yieldkit.study.logs.drawn_inputs import DrawnInputs
from yieldkit.study.logs.light_on_inputs import LogTime
from yieldkit.study.logs.plant_log import PlantLog
from yieldkit.study.logs.repeated import Copy, copies, exact_copies

WORDS = {"v_dc": "DC voltage", "i_dc": "DC current", "p_dc": "DC power", "p_ac": "AC power"}
_BETTER = 0.02
"""So much closer to its own light a column follows that is the original [1]."""
_CONVERTED = (0.8, 1.05)
"""AC over DC power of an inverter, as far as clocks and meters differ [1]."""


def copied_inputs(
    site: Site, drawn: DrawnInputs, log: PlantLog, time: LogTime, light: FloatArray
) -> tuple[PlantLog, tuple[str, ...], BoolArray]:
    """Find columns that are copies.

    Parameters
    ----------
    site : Site
        Its inverters.
    drawn : DrawnInputs
        The inputs.
    log : PlantLog
        The log.
    time : LogTime
        Its steps.
    light : ndarray
        Of a cloudless sky on the inputs [W/m2] (step, tracker).

    Returns
    -------
    tuple
        The log without AC power that is another inverter's; what is told; where an input's values
        are a copy (step, tracker). Where nothing tells which of two is the copy, it is both.
    """
    there = np.zeros(light.shape, dtype=bool)
    remarks = []
    for name in own_columns(log.data):
        values = log.data[name].to_numpy().astype(float)
        columns = {own: values[:, at] for at, own in enumerate(drawn.names)}
        follows = {own: light[:, at] for at, own in enumerate(drawn.names)}
        if name == "v_dc":
            follows = dict.fromkeys(follows, np.full(len(values), np.nan))
        for copy in copies(columns, follows, time.day, np.asarray(log.counted.any(axis=1))):
            suspects = _suspects(copy, columns, follows)
            for own in suspects:
                there[copy.days[time.day], drawn.names.index(own)] = True
            remarks.append(_told(copy, WORDS[name], suspects))
    return _with_ac(site, drawn, log, time, there, remarks)


def _with_ac(
    site: Site,
    drawn: DrawnInputs,
    log: PlantLog,
    time: LogTime,
    there: BoolArray,
    remarks: list[str],
) -> tuple[PlantLog, tuple[str, ...], BoolArray]:
    """Return the same with what AC power repeats, or what repeats AC power."""
    if "p_ac" not in log.data:
        return log, tuple(remarks), there
    names = [f"inverter {one.name}" for one in site.each_inverter()]
    power = log.data["p_ac"].to_numpy().astype(float)
    columns = {own: power[:, at] for at, own in enumerate(names)}
    nowhere = dict.fromkeys(names, np.full(len(power), np.nan))
    lit = np.ones(len(power), dtype=bool)
    kept = power.copy()
    for copy in copies(columns, nowhere, time.day, lit):
        suspects = [own for own in (copy.one, copy.other) if not _fits(drawn, log, names, own)]
        suspects = suspects or [copy.one, copy.other]
        for own in suspects:
            kept[copy.days[time.day], names.index(own)] = np.nan
        remarks.append(_told(copy, WORDS["p_ac"], suspects))
    if "p_dc" in log.data:
        values = log.data["p_dc"].to_numpy().astype(float)
        direct = {own: values[:, at] for at, own in enumerate(drawn.names)}
        for copy in exact_copies(direct, columns, time.day, lit):
            there[copy.days[time.day], drawn.names.index(copy.one)] = True
            remarks.append(
                f"DC power of {copy.one} is the AC power of {copy.other} to the last digit, which "
                f"no conversion does: it is a copy ({_days(copy)})."
            )
    dims = log.data["p_ac"].dims
    data = log.data.assign(p_ac=(dims, kept, log.data["p_ac"].attrs))
    return replace(log, data=data), tuple(remarks), there


def _suspects(
    copy: Copy, columns: dict[str, FloatArray], follows: dict[str, FloatArray]
) -> list[str]:
    """Return which of the two is the copy: what follows its own light less well; or both."""
    fits = [_alike(columns[own], follows[own]) for own in (copy.one, copy.other)]
    if fits[0] > fits[1] + _BETTER:
        return [copy.other]
    if fits[1] > fits[0] + _BETTER:
        return [copy.one]
    return [copy.one, copy.other]


def _alike(values: FloatArray, light: FloatArray) -> float:
    """Return the correlation of a column with light, 0 where there is none."""
    known = np.isfinite(values) & np.isfinite(light) & (light > 0.0)
    if np.count_nonzero(known) < 3 or np.ptp(values[known]) == 0.0:
        return 0.0
    return float(np.corrcoef(values[known], light[known])[0, 1])


def _fits(drawn: DrawnInputs, log: PlantLog, names: list[str], own: str) -> bool:
    """Return whether an inverter's AC power goes with the DC power of its inputs."""
    if "p_dc" not in log.data:
        return False
    at = names.index(own)
    direct = log.data["p_dc"].to_numpy()[:, drawn.inverter == at].sum(axis=1)
    power = log.data["p_ac"].to_numpy()[:, at]
    good = np.isfinite(direct) & np.isfinite(power)
    good &= direct > 0.2 * np.nanmax(np.where(np.isfinite(direct), direct, 0.0), initial=1.0)
    if not good.any():
        return False
    low, high = _CONVERTED
    return bool(low < np.median(power[good] / direct[good]) < high)


def _told(copy: Copy, what: str, suspects: list[str]) -> str:
    times = "" if copy.factor == 1.0 else f" times {copy.factor:.4g}"
    left = " and ".join(suspects)
    which = "" if len(suspects) == 1 else ", for nothing tells which of them is the copy"
    return (
        f"{what} of {copy.other} is that of {copy.one}{times} to the last digit, which two "
        f"measurements never are: {left} left out{which} ({_days(copy)})."
    )


def _days(copy: Copy) -> str:
    count = int(np.count_nonzero(copy.days))
    return f"on {count} day{'s' if count > 1 else ''}"
