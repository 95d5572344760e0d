"""Planes whose modules stand in shadow: the light of every cell group, merged into levels."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import xarray as xr

from yieldkit.base.arrays import BoolArray, FloatArray, IntArray
from yieldkit.design.roof.scene import PlaneScene
from yieldkit.physics.circuit.api import CellConditions
from yieldkit.physics.circuit.by_step import run_maxima
from yieldkit.physics.circuit.levels import LIGHT_TOLERANCE, Levels, merged_levels
from yieldkit.physics.irradiance.module_light import Components, ModuleLight, module_light
from yieldkit.physics.irradiance.sky_seen import sky_views
from yieldkit.physics.irradiance.snow import snow_on_modules
from yieldkit.physics.module.datasheet import DiodeFit
from yieldkit.study.simulation.month_weights import kept
from yieldkit.study.simulation.plane_light import Lit
from yieldkit.study.simulation.planes import PlaneCells, group_conditions, scale_current
from yieldkit.study.simulation.snow import PlaneSnow
from yieldkit.study.simulation.soiling import months

_BLOCK = 2048
"""Steps whose light is held module by module at once."""


@dataclass(frozen=True)
class ShadedPlane:
    """The cell groups of a plane's modules in their light.

    Parameters
    ----------
    groups : int
        Cell groups of a module.
    steps : ndarray of int
        The steps with light: their positions in time (step,).
    levels : Levels
        Levels of the lights of all groups, one module's after the other's, at those steps.
    lights : CellConditions
        Diode parameters: of each level, then of the brighter halves, each (light,).
    partners : ndarray of int
        Position of each level's brighter halves among the lights, -1 for whole groups (level,).
    maxima : ndarray
        Maximum of a group of each level standing alone [W] (level,).
    at_mean : ndarray
        Power of each module as if all its cells had its mean light [W], summed over the steps that
        count (module,).
    at_darkest : ndarray
        Sum of its groups' own maxima, likewise (module,).
    power : ndarray
        Sum of the groups' own maxima of all modules without snow [W] (time,).
    at_snow : ndarray
        As `at_darkest`, with the snow on them; the levels and lights are those with snow.
    """

    groups: int
    steps: IntArray
    levels: Levels
    lights: CellConditions
    partners: IntArray
    maxima: FloatArray
    at_mean: FloatArray
    at_darkest: FloatArray
    power: FloatArray
    at_snow: FloatArray

    def without(self, lacking: BoolArray) -> ShadedPlane:
        """Return the same with its light missing at some steps (time,)."""
        dark = np.repeat(lacking[self.steps], np.diff(self.levels.first))
        every = np.concatenate([dark, dark[self.partners >= 0]])
        lights = CellConditions(*(np.where(every, np.nan, part) for part in self.lights))
        return replace(
            self,
            lights=lights,
            maxima=np.where(dark, np.nan, self.maxima),
            power=np.where(lacking, np.nan, self.power),
        )

    def of_modules(self, modules: IntArray) -> IntArray:
        """Return the positions of modules' groups among all groups."""
        own = np.asarray(modules)[:, None] * self.groups + np.arange(self.groups)
        return own.reshape(-1)


def shaded_plane(
    scene: PlaneScene,
    components: Components,
    fit: DiodeFit,
    groups: int,
    weather: xr.Dataset,
    lit: Lit,
    cells: PlaneCells,
    counted: BoolArray | FloatArray,
    snow: PlaneSnow | None = None,
) -> ShadedPlane:
    """Follow the light of a plane's modules past what stands in it, to their cell groups.

    Parameters
    ----------
    scene : PlaneScene
        The modules and what may shade them.
    components : Components
        The light of an unshaded cell, from `light_components`.
    fit : DiodeFit
        The diode of the modules.
    groups : int
        Cell groups of a module.
    weather : Dataset
        Canonical weather (time).
    lit : Lit
        Its sun and light.
    cells : PlaneCells
        The plane without shadow.
    counted : ndarray of bool or float
        Which steps count in sums, or how much where that differs (lit step,).
    snow : PlaneSnow, optional
        Snow on the plane.
    """
    views = sky_views(scene.modules, scene.bodies, scene.horizon)
    month = months(weather)[lit.steps]
    full = cells.light[-1]
    conditions = _LevelConditions(fit, groups, weather, lit, cells)
    parts, means, in_snow = [], [], []
    for begin in range(0, lit.steps.size, _BLOCK):
        own = slice(begin, begin + _BLOCK)
        light = module_light(
            scene.modules,
            scene.bodies,
            views,
            lit.sun.at(np.arange(lit.steps.size)[own]),
            month[own],
            Components(*(part[own] for part in components)),
        )
        one, two = _merged(light, full[own])
        parts.append(one)
        means.append(two)
        if snow is not None:
            in_snow.append(_under_snow(light, full[own], scene, snow, lit.steps[own]))
    bare = _solved(_joined(parts), _joined(means), groups, lit, cells, conditions, counted)
    return _snowed(bare, _joined(in_snow), groups, conditions, counted) if in_snow else bare


def _under_snow(
    light: ModuleLight, full: FloatArray, scene: PlaneScene, snow: PlaneSnow, steps: IntArray
) -> Levels:
    """Return the levels of the lights of groups that snow leaves, at some steps."""
    if snow.lost is not None:
        left = 1.0 - snow.lost[steps]
        darkest = light.darkest * left[:, None, None, None]
        # What lies on all alike takes light, and is taken to keep no module cooler than others.
        return _merged(ModuleLight(darkest, light.mean), full)[0]
    if snow.covered is None:
        raise TypeError("snow that neither covers nor takes a share")
    free = snow_on_modules(scene.modules, snow.covered[steps])
    return _merged(ModuleLight(light.darkest * free.darkest, light.mean * free.mean), full)[0]


def _snowed(
    bare: ShadedPlane,
    levels: Levels,
    groups: int,
    conditions: _LevelConditions,
    counted: BoolArray | FloatArray,
) -> ShadedPlane:
    """Return a plane's modules in snow, with the sums of those without it."""
    lights, partners = conditions.of(levels)
    maxima = _maxima(lights, partners)
    modules = bare.at_mean.size
    at_snow = np.zeros(modules)
    for begin in range(0, bare.steps.size, _BLOCK):
        own = slice(begin, begin + _BLOCK)
        each = maxima[levels.first[:-1][own, None] + levels.level_of[own]]
        each = each.reshape(-1, modules, groups).sum(axis=2)
        at_snow += kept(counted[own, None], each).sum(axis=0)
    return replace(
        bare, levels=levels, lights=lights, partners=partners, maxima=maxima, at_snow=at_snow
    )


def _merged(light: ModuleLight, full: FloatArray) -> tuple[Levels, Levels]:
    """Merge the lights of groups, and the mean lights of modules, of some steps into levels."""
    steps, modules, groups, halves = light.darkest.shape
    with np.errstate(invalid="ignore", divide="ignore"):
        warmth = light.mean / full[:, None]
    warmth = np.where(full[:, None] > 0.0, warmth, np.where(np.isnan(full), np.nan, 1.0)[:, None])
    each = light.darkest.reshape(steps, modules * groups, halves)
    return (
        merged_levels(each, np.repeat(warmth, groups, axis=1), LIGHT_TOLERANCE),
        merged_levels(light.mean[..., None], warmth, LIGHT_TOLERANCE),
    )


def _joined(parts: list[Levels]) -> Levels:
    """Put the levels of consecutive steps together."""
    number = np.concatenate([np.diff(part.first) for part in parts])
    return Levels(
        np.concatenate([[0], np.cumsum(number)]),
        np.concatenate([part.light for part in parts]),
        np.concatenate([part.other for part in parts]),
        np.concatenate([part.warmth for part in parts]),
        np.concatenate([part.level_of for part in parts]),
    )


@dataclass(frozen=True)
class _LevelConditions:
    """Makes diode parameters of levels: those of the plane's own modules in other light."""

    fit: DiodeFit
    groups: int
    weather: xr.Dataset
    lit: Lit
    cells: PlaneCells

    def of(self, levels: Levels) -> tuple[CellConditions, IntArray]:
        """Return the lights of levels and of their brighter halves, and where those stand."""
        halved = np.flatnonzero(levels.light != levels.other)
        # Missing light is no halved group.
        halved = halved[~np.isnan(levels.light[halved])]
        partners = np.full(levels.light.size, -1)
        partners[halved] = levels.light.size + np.arange(halved.size)
        at = np.repeat(self.lit.steps, np.diff(levels.first))
        at = np.concatenate([at, at[halved]])
        light = np.concatenate([levels.light, levels.other[halved]])
        warmth = np.concatenate([levels.warmth, levels.warmth[halved]])
        air = self.weather.variables["temp_air"].to_numpy()[at]
        temp_cell = air + (self.cells.temp_cell[at] - air) * warmth
        _, rear, tolerance, kept = self.cells.gains
        quality = tolerance * kept
        found = group_conditions(self.fit, light * rear, temp_cell, self.groups)
        if quality != 1.0:
            found = scale_current(found, quality)
        return CellConditions(*(part[:, 0] for part in found)), partners


def _solved(
    levels: Levels,
    means: Levels,
    groups: int,
    lit: Lit,
    cells: PlaneCells,
    conditions: _LevelConditions,
    counted: BoolArray | FloatArray,
) -> ShadedPlane:
    """Solve each level's groups standing alone, and sum modules up."""
    lights, partners = conditions.of(levels)
    maxima = _maxima(lights, partners)
    mean_lights, mean_partners = conditions.of(means)
    per_module = groups * _maxima(mean_lights, mean_partners)
    modules = means.level_of.shape[1]
    at_mean, at_darkest = np.zeros(modules), np.zeros(modules)
    darkest = np.empty(lit.steps.size)
    for begin in range(0, lit.steps.size, _BLOCK):
        own = slice(begin, begin + _BLOCK)
        counts = counted[own, None]
        mean = per_module[means.first[:-1][own, None] + means.level_of[own]]
        each = maxima[levels.first[:-1][own, None] + levels.level_of[own]]
        dark = each.reshape(-1, modules, groups).sum(axis=2)
        at_mean += kept(counts, mean).sum(axis=0)
        at_darkest += kept(counts, dark).sum(axis=0)
        darkest[own] = dark.sum(axis=1)
    return ShadedPlane(
        groups=groups,
        steps=lit.steps,
        levels=levels,
        lights=lights,
        partners=partners,
        maxima=maxima,
        at_mean=at_mean,
        at_darkest=at_darkest,
        power=lit.everywhere(darkest),
        at_snow=at_darkest,
    )


def _maxima(lights: CellConditions, partners: IntArray) -> FloatArray:
    """Return the maximum of a group of each level standing alone [W] (level,)."""
    number = partners.size
    runs = np.column_stack([np.arange(number), partners, np.ones(number, dtype=np.int64)])
    return run_maxima(lights, runs)
