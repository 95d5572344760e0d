"""A second opinion on strings and trackers: voltages tried one by one, the best taken."""

import numpy as np
from pvlib import pvsystem

_COARSE = 30
_GOLDEN = (np.sqrt(5.0) - 1.0) / 2.0
_RESISTANCE_20C = {
    # ohm/km at 20 degC, IEC 60228 table 3 (flexible, tinned) and table 2 (stranded); read.
    ("copper", "class-5-tinned"): {
        1.5: 13.7, 2.5: 8.21, 4: 5.09, 6: 3.39, 10: 1.95, 16: 1.24, 25: 0.795,
    },
    ("copper", "class-2"): {
        1.5: 12.1, 2.5: 7.41, 4: 4.61, 6: 3.08, 10: 1.83, 16: 1.15, 25: 0.727, 35: 0.524,
        50: 0.387, 70: 0.268, 95: 0.193,
    },
    ("aluminium", "class-2"): {
        10: 3.08, 16: 1.91, 25: 1.20, 35: 0.868, 50: 0.641, 70: 0.443, 95: 0.320, 120: 0.253,
    },
}  # fmt: skip
# A Schottky bypass diode of 0.45 V at 9 A and 60 degC; common practice, from memory.
_BYPASS_THERMAL_V = 1.380649e-23 * 333.15 / 1.602176634e-19
_BYPASS_LEAK_A = 9.0 / np.expm1(0.45 / _BYPASS_THERMAL_V)
_PER_KELVIN = {"copper": 0.00393, "aluminium": 0.00403}  # IEC 60228; read


def resistance_per_m(cable: dict, usual_class: str, usual_temp_c: float) -> float:
    """Return a conductor's resistance at its stated temperature [ohm/m]."""
    metal = cable.get("material", "copper")
    kind = cable.get("conductor_class", usual_class)
    warm = cable.get("temp_conductor_c", usual_temp_c) - 20.0
    cold = _RESISTANCE_20C[metal, kind][cable["cross_section_mm2"]]
    return cold / 1000.0 * (1.0 + _PER_KELVIN[metal] * warm)


def cable_resistance(string: dict) -> float:
    """Return a string cable's resistance, out and back [ohm]."""
    cable = string.get("cable")
    if cable is None:
        return 0.0
    return 2.0 * cable["length_m"] * resistance_per_m(cable, "class-5-tinned", 60.0)


def past_the_group(volts: np.ndarray) -> np.ndarray:
    """Return what passes a bypass diode at the voltage of its cell group [A]."""
    return _BYPASS_LEAK_A * np.expm1(np.minimum(-volts / _BYPASS_THERMAL_V, 50.0))


class EvenString:
    """A string whose modules share one light: one diode, so many times as high."""

    def __init__(self, module: tuple, count: int, ohms: float, many: int, rows: np.ndarray) -> None:
        light, dark, series, shunt, a = (part[rows] for part in module)
        self.diode = (light, dark, series * count + ohms, shunt * count, a * count)
        self.many = many

    def current(self, volts: np.ndarray) -> np.ndarray:
        """Return the current of all such strings at a voltage of the input [A]."""
        shape = np.broadcast_shapes(volts.shape, self.diode[0].shape)
        return self.many * np.asarray(
            pvsystem.i_from_v(np.broadcast_to(volts, shape), *self.diode, method="lambertw")
        )

    def open_circuit(self) -> np.ndarray:
        """Return the open-circuit voltage [V]."""
        return np.asarray(pvsystem.v_from_i(0.0 * self.diode[0], *self.diode, method="lambertw"))

    def best(self, low: float, high: float, most: float) -> tuple[np.ndarray, ...]:
        """Return power, voltage and open-circuit voltage (step,): junction voltages tried.

        By the junction's voltage current and voltage are both explicit, so that no equation has
        to be solved; the ends that window and current leave are found by halving.
        """
        light, dark, series, shunt, a = self.diode

        def curve(junction: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
            one = light - dark * np.expm1(junction / a) - junction / shunt
            return junction - one * series, self.many * one

        def halved(beyond, left: np.ndarray, right: np.ndarray) -> np.ndarray:
            for _ in range(45):
                half = 0.5 * (left + right)
                past = beyond(*curve(half))
                left, right = np.where(past, left, half), np.where(past, half, right)
            return right

        highest = a * np.log1p(light / dark)
        zero = -light * series
        top = halved(lambda volts, amperes: amperes <= 0.0, zero, highest)
        first = halved(lambda volts, amperes: (volts >= low) & (amperes <= most), zero, top)
        last = halved(lambda volts, amperes: volts >= high, first, top)
        grid = first + np.linspace(0.0, 1.0, _COARSE)[:, None] * (last - first)
        best = np.prod(curve(grid), axis=0).argmax(axis=0)
        steps = np.arange(top.size)
        left = grid[np.maximum(best - 1, 0), steps]
        right = grid[np.minimum(best + 1, _COARSE - 1), steps]
        for _ in range(30):
            inner, outer = right - _GOLDEN * (right - left), left + _GOLDEN * (right - left)
            better = np.prod(curve(inner), axis=0) > np.prod(curve(outer), axis=0)
            left, right = np.where(better, left, inner), np.where(better, outer, right)
        volts, amperes = curve(0.5 * (left + right))
        usable = (top > low) & (volts * amperes > 0.0) & (amperes <= most * (1.0 + 1e-9))
        return np.where(usable, volts * amperes, 0.0), np.where(usable, volts, 0.0), top


class MixedString:
    """A string across planes: at each current the groups' voltages add up, bypass diodes too."""

    def __init__(self, parts: list, ohms: float, rows: np.ndarray) -> None:
        self.parts = [
            (tuple(part[rows] for part in module), count, groups) for module, count, groups in parts
        ]
        self.ohms = ohms
        self.brightest = np.max([module[0] for module, *_ in self.parts], axis=0)

    def voltage(self, amperes: np.ndarray) -> np.ndarray:
        """Return the voltage at the input at a current [V]."""
        parts = [self._voltage(*part, amperes) for part in self.parts]
        return np.sum(parts, axis=0) - self.ohms * amperes

    @staticmethod
    def _group(module: tuple, groups: int) -> tuple:
        light, dark, series, shunt, a = module
        return light, dark, series / groups, shunt / groups, a / groups

    def _through(self, volts: np.ndarray, group: tuple) -> np.ndarray:
        """Return what passes a cell group and its bypass diode at a voltage [A]."""
        return np.asarray(pvsystem.i_from_v(volts, *group)) + past_the_group(volts)

    def _voltage(self, module: tuple, count: int, groups: int, amperes: np.ndarray) -> np.ndarray:
        """Return the voltage of modules in series, each group bypassed where it can't follow."""
        group = self._group(module, groups)
        low = np.full(amperes.shape, -1.0)
        high = np.broadcast_to(pvsystem.v_from_i(0.0 * module[0], *group), amperes.shape).copy()
        for _ in range(34):
            half = 0.5 * (low + high)
            above = self._through(half, group) > amperes
            low, high = np.where(above, half, low), np.where(above, high, half)
        return count * groups * 0.5 * (low + high)

    def best(self, low: float, high: float, most: float) -> tuple[np.ndarray, ...]:
        """Return power, voltage and open-circuit voltage (step,): currents tried one by one.

        A first look reads the voltages off tabulated curves; the currents round the best of it
        are then tried on the equations themselves.
        """

        def tried(amperes: np.ndarray, volts: np.ndarray) -> np.ndarray:
            allowed = (volts >= low) & (volts <= high) & (amperes <= most)
            return np.where(allowed, amperes * volts, 0.0)

        steps = np.arange(self.brightest.size)
        amperes = np.linspace(0.0, 1.0, 300)[:, None] * self.brightest
        best = tried(amperes, self._looked_up(amperes)).argmax(axis=0)
        first = amperes[np.maximum(best - 1, 0), steps]
        last = amperes[np.minimum(best + 1, 299), steps]
        amperes = first + np.linspace(0.0, 1.0, 13)[:, None] * (last - first)
        volts = self.voltage(amperes)
        power = tried(amperes, volts)
        best = power.argmax(axis=0)
        found = power[best, steps]
        top = self.voltage(0.0 * self.brightest)
        return found, np.where(found > 0.0, volts[best, steps], 0.0), top

    def _looked_up(self, amperes: np.ndarray) -> np.ndarray:
        """Return the voltage at currents, between tabulated points of each plane's curve [V]."""
        total = -self.ohms * amperes
        for module, count, groups in self.parts:
            group = self._group(module, groups)
            top = np.asarray(pvsystem.v_from_i(0.0 * module[0], *group))
            fine = np.concatenate([np.linspace(-0.6, 0.0, 40), np.linspace(0.0, 1.0, 160)[1:]])
            volts = np.where(fine[:, None] < 0.0, fine[:, None], fine[:, None] * top)
            through = self._through(volts, group)
            for step in range(amperes.shape[1]):
                total[:, step] += (count * groups) * np.interp(
                    -amperes[:, step], -through[:, step], volts[:, step]
                )
        return total


def strings_of(tracker: dict, modules: dict, types: dict, rows: np.ndarray) -> list:
    """Return the strings of a tracker, equal ones counted.

    Parameters
    ----------
    tracker : dict
        An entry of a wiring.
    modules : dict
        Diode parameters of a module by plane, each (time,).
    types : dict
        Module type by plane.
    rows : ndarray of int
        Steps to look at.
    """
    counted: dict[tuple, int] = {}
    for string in tracker["strings"]:
        groups = tuple((group["plane"], group["modules"]) for group in string["groups"])
        key = (groups, cable_resistance(string))
        counted[key] = counted.get(key, 0) + 1
    found = []
    for (groups, ohms), many in counted.items():
        planes = {name for name, _ in groups}
        if len(planes) == 1:
            total = sum(count for _, count in groups)
            found.append(EvenString(modules[groups[0][0]], total, ohms, many, rows))
            continue
        assert many == 1, "equal strings across planes are not foreseen here"
        parts = [
            (modules[name], count, types[name].get("bypass_diodes", 3)) for name, count in groups
        ]
        found.append(MixedString(parts, ohms, rows))
    return found


def best_point(strings: list, mppt: dict) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return power [W], voltage and the highest voltage [V] of a tracker (step,).

    Voltages between the ends that window, highest voltage and input current leave are tried on a
    grid, and the best neighbourhood is searched by golden sections.
    """

    highest = mppt.get("max_operating_voltage_v", mppt["max_voltage_v"])
    highest = min(mppt["mpp_voltage_max_v"], highest)
    amperes = mppt.get("max_input_current_a", np.inf)
    if len(strings) == 1:
        return strings[0].best(mppt["mpp_voltage_min_v"], highest, amperes)
    assert all(isinstance(string, EvenString) for string in strings), "not foreseen here"

    def current(volts: np.ndarray) -> np.ndarray:
        return np.sum([string.current(volts) for string in strings], axis=0)

    top = np.max([string.open_circuit() for string in strings], axis=0)
    high = np.minimum(top, highest)
    low = np.minimum(np.full(top.shape, float(mppt["mpp_voltage_min_v"])), high)
    over = current(low) > amperes
    if over.any():
        left, right = low.copy(), top.copy()
        for _ in range(50):
            half = 0.5 * (left + right)
            more = current(half) > amperes
            left, right = np.where(more, half, left), np.where(more, right, half)
        low = np.where(over, right, low)
    grid = low + np.linspace(0.0, 1.0, _COARSE)[:, None] * (high - low)
    power = grid * current(grid)
    best = power.argmax(axis=0)
    steps = np.arange(top.size)
    left = grid[np.maximum(best - 1, 0), steps]
    right = grid[np.minimum(best + 1, _COARSE - 1), steps]
    for _ in range(24):
        inner, outer = right - _GOLDEN * (right - left), left + _GOLDEN * (right - left)
        better = inner * current(inner) > outer * current(outer)
        left, right = np.where(better, left, inner), np.where(better, outer, right)
    volts = 0.5 * (left + right)
    found = np.maximum(volts * current(volts), power[best, steps])
    usable = (high > low) & (top > mppt["mpp_voltage_min_v"]) & (found > 0.0)
    return np.where(usable, found, 0.0), np.where(usable, volts, 0.0), top


def running(
    power: np.ndarray,
    volts: np.ndarray,
    top: np.ndarray,
    dark: np.ndarray,
    mppt: dict,
    step_s: float,
) -> np.ndarray:
    """Return the share of each step for which an input runs, carried through the day (time,)."""
    share = np.zeros(power.size)
    state, waited = "off", 0.0
    stop_v, stop_w = mppt.get("stop_voltage_v", 0.0), mppt.get("stop_power_w", 0.0)
    for step in range(power.size):
        if dark[step]:
            state, waited = "off", 0.0
            continue
        keeps = power[step] > 0.0 and volts[step] >= stop_v and power[step] >= stop_w
        if state == "running":
            share[step] = float(keeps)
            state, waited = ("running", 0.0) if keeps else ("stopped", 0.0)
            continue
        starts = top[step] >= mppt["start_voltage_v"]
        if not (keeps and starts and power[step] >= mppt.get("start_power_w", 0.0)):
            waited = 0.0
            continue
        wait = mppt.get("start_delay_s" if state == "off" else "restart_delay_s", 0.0)
        left = max(wait - waited, 0.0)
        if left >= step_s:
            waited += step_s
            continue
        state, waited, share[step] = "running", 0.0, 1.0 - left / step_s
    return share
