"""A second opinion on strings in shadow: every cell group with the light of its own halves."""

import numpy as np

from tests.street.oracle_circuit import past_the_group

_JUNCTIONS, _VOLTS, _AMPERES = 400, 200, 400


class ShadedString:
    """Cell groups in series, each one or two halves in parallel with a bypass diode across.

    Parameters
    ----------
    parts : list of tuple
        Photocurrent, saturation current, R_s, R_sh and n Ns Vth of a run of modules, as if each
        half of a group were lit like a whole module, each (time, module, group, half).
    ohms : float
        Of the cable, out and back [ohm].
    rows : ndarray of int
        Steps to look at.
    """

    def __init__(self, parts: list, ohms: float, rows: np.ndarray) -> None:
        brightest, curves = np.zeros(rows.size), []
        for module in parts:
            halves = [_halved(part[rows]) for part in _of_halves(module)]
            brightest = np.maximum(brightest, halves[0].sum(axis=2).max(axis=1))
            curves.append(halves)
        self.amperes = np.linspace(0.0, 1.0, _AMPERES)[:, None] * brightest
        self.volts = -ohms * self.amperes
        for halves in curves:
            for step in range(rows.size):
                for element in range(halves[0].shape[1]):
                    own = [part[step, element] for part in halves]
                    self.volts[:, step] += _voltage(own, self.amperes[:, step])

    def best(self, low: float, high: float, most: float) -> tuple[np.ndarray, ...]:
        """Return power, voltage and open-circuit voltage (step,): currents tried one by one."""
        allowed = (self.volts >= low) & (self.volts <= high) & (self.amperes <= most)
        power = np.where(allowed, self.volts * self.amperes, 0.0)
        steps = np.arange(power.shape[1])
        best = power.argmax(axis=0)
        found = power[best, steps]
        return found, np.where(found > 0.0, self.volts[best, steps], 0.0), self.volts[0]


def _of_halves(module: tuple) -> tuple[np.ndarray, ...]:
    """Return diode parameters of one half of a cell group of such modules."""
    light, dark, series, shunt, a = module
    groups, halves = light.shape[2:]
    scale = halves / groups
    return light / halves, dark / halves, series * scale, shunt * scale, a / groups


def _halved(part: np.ndarray) -> np.ndarray:
    """Return values by element of the string (step, element, half)."""
    return part.reshape(len(part), -1, part.shape[-1])


def _voltage(halves: list, amperes: np.ndarray) -> np.ndarray:
    """Return the voltage of a cell group at currents, its bypass diode too [V]."""
    light, dark, series, shunt, a = halves
    top = (a * np.log1p(light / dark)).max()
    volts = np.concatenate([np.linspace(-0.6, 0.0, 40)[:-1], np.linspace(0.0, top, _VOLTS)])
    junctions = np.linspace(-1.0, 1.02 * top, _JUNCTIONS)
    through = past_the_group(volts)
    for il, i0, rs, rsh, nvth in zip(light, dark, series, shunt, a, strict=True):
        one = il - i0 * np.expm1(junctions / nvth) - junctions / rsh
        through = through + np.interp(volts, junctions - one * rs, one)
    return np.interp(-amperes, -through, volts)
