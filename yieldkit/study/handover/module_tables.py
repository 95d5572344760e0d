"""Open-circuit voltage and short-circuit current of a plane's modules, from the circuit, as tables.

A judgement asks for them some ten thousand times; the circuit itself is asked once for each node.
"""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np
from scipy.interpolate import RectBivariateSpline

from yieldkit.base.arrays import FloatArray
from yieldkit.config.models.modules import ModuleType
from yieldkit.config.models.planes import Plane
from yieldkit.config.site.site import Site
from yieldkit.design.equipment.modules import fit_module_type
from yieldkit.physics.circuit.api import (
    CellConditions,
    Run,
    StringCircuit,
    string_current,
    string_voltage,
)
from yieldkit.study.simulation.planes import group_conditions, scale_current

_LIGHT_W_M2 = (20.0, 1800.0)
_HEAT_C = (-40.0, 120.0)
_NODES = 33


class ModuleTable(NamedTuple):
    """A cell group of a plane over light in the cells and their temperature.

    Parameters
    ----------
    voltage, current : RectBivariateSpline
        Open-circuit voltage [V] and the logarithm of the short-circuit current [A], over the
        logarithm of the light and temperature.
    """

    voltage: RectBivariateSpline
    current: RectBivariateSpline

    def open_circuit(self, light: FloatArray, heat: FloatArray) -> tuple[FloatArray, ...]:
        """Return voltage [V], and its slopes by the logarithm of light and by temperature.

        Parameters
        ----------
        light : ndarray
            In the cells [W/m2].
        heat : ndarray
            Of the cells [degC].
        """
        return _with_slopes(self.voltage, light, heat)

    def open_circuit_voltage(self, light: FloatArray, heat: FloatArray) -> FloatArray:
        """Return the voltage alone [V], as for `open_circuit`."""
        log, warm = np.log(np.clip(light, *_LIGHT_W_M2)), np.clip(heat, *_HEAT_C)
        return np.asarray(self.voltage(log, warm, grid=False))

    def short_circuit(self, light: FloatArray, heat: FloatArray) -> tuple[FloatArray, ...]:
        """Return current [A], and slopes of its logarithm, as for `open_circuit`."""
        log, by_light, by_heat = _with_slopes(self.current, light, heat)
        return np.exp(log), by_light, by_heat


def cell_groups(site: Site, plane: Plane, light: FloatArray, heat: FloatArray) -> CellConditions:
    """Return diode parameters of a cell group of a plane, each (row, 1).

    Parameters
    ----------
    site : Site
        Knows the module types.
    plane : Plane
        The plane.
    light, heat : ndarray
        Light in the cells [W/m2] and their temperature [degC] (row,).
    """
    return _groups(*_made_of(site, plane), light, heat)


def _made_of(site: Site, plane: Plane) -> tuple[ModuleType, float]:
    """Return a plane's module type, and the factor on its current that the plane's file states."""
    module = next(own for own in site.module_types if own.name == plane.module_type)
    quality = 1.0 + plane.power_deviation_percent / 100.0
    return module, quality * (1.0 - plane.initial_loss_percent / 100.0)


def _groups(
    module: ModuleType, quality: float, light: FloatArray, heat: FloatArray
) -> CellConditions:
    found = group_conditions(fit_module_type(module), light, heat, module.bypass_diodes)
    return found if quality == 1.0 else scale_current(found, quality)


def module_table(site: Site, plane: Plane) -> ModuleTable:
    """Ask the circuit for a plane's cell group at all nodes; once for planes of the same modules.

    Parameters
    ----------
    site : Site
        Knows the module types.
    plane : Plane
        The plane.
    """
    return _table(*_made_of(site, plane))


@lru_cache(maxsize=32)
def _table(module: ModuleType, quality: float) -> ModuleTable:
    darkest, brightest = _LIGHT_W_M2
    logs = np.linspace(np.log(darkest), np.log(brightest), _NODES)
    heats = np.linspace(_HEAT_C[0], _HEAT_C[1], _NODES)
    light, heat = (each.ravel() for each in np.meshgrid(np.exp(logs), heats, indexing="ij"))
    conditions = _groups(module, quality, light, heat)
    alone, nothing = StringCircuit((Run(0, 1),), 0.0, False), np.zeros(light.size)
    volts = string_voltage(conditions, alone, nothing)
    amperes = string_current(conditions, alone, nothing)
    shape = _NODES, _NODES
    return ModuleTable(
        RectBivariateSpline(logs, heats, volts.reshape(shape)),
        RectBivariateSpline(logs, heats, np.log(amperes).reshape(shape)),
    )


def _with_slopes(
    table: RectBivariateSpline, light: FloatArray, heat: FloatArray
) -> tuple[FloatArray, ...]:
    log = np.log(np.clip(light, *_LIGHT_W_M2))
    warm = np.clip(heat, *_HEAT_C)
    return (
        table(log, warm, grid=False),
        table(log, warm, 1, 0, False),
        table(log, warm, 0, 1, False),
    )
