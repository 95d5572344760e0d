"""A second opinion on several inverters behind one meter, one after the other and together.

Each inverter's DC side is a house of its own; what they do to one another is found by damped
sweeps over the voltages of all nodes, every step at once, and an export limit by bisection.
"""

from dataclasses import dataclass, replace

import numpy as np

from tests.street import oracle, oracle_ac, oracle_load, oracle_network
from tests.street.oracle_rules_ac import Inverter, given

_DAMPING = {True: 0.35, False: 0.9}
"""Share of a sweep's move that is made, by whether powers follow the voltage."""
_MOST_SWEEPS, _SETTLED_V = 3000, 1e-8
_HALVINGS = 27


def alone(site: dict, name: str, wired: bool = True) -> dict:
    """Return a site's file as a house of one of its inverters, with its own lead and strings.

    Parameters
    ----------
    site : dict
        A site file with several inverters.
    name : str
        Which of them.
    wired : bool
        Whether its wirings come along, cut down to its own strings.
    """
    installed = next(each for each in site["inverters"] if each["name"] == name)
    kind = next(each for each in site["inverter_types"] if each["name"] == installed["type"])
    grid = {key: value for key, value in site["grid"].items() if key != "lead"}
    if "lead" in installed:
        grid["lead"] = installed["lead"]
    view = site | {"inverter": kind, "inverter_place": installed.get("place", {}), "grid": grid}
    view["wirings"] = [strings_of(wiring, name) for wiring in site["wirings"]] if wired else []
    return view


def strings_of(wiring: dict, name: str) -> dict:
    """Return a wiring with the trackers of one inverter only."""
    own = [tracker for tracker in wiring["trackers"] if tracker["inverter"] == name]
    return wiring | {"trackers": own}


@dataclass(frozen=True)
class Branches:
    """What a phase's current meets [ohm]: network, common lead, own leads (inverter,)."""

    network: complex
    common: complex
    own: np.ndarray
    phases: int


@dataclass(frozen=True)
class Flow:
    """A state of all steps: powers and voltages, (time, inverter) or (time,) at the meter."""

    p: np.ndarray
    q: np.ndarray
    volts: np.ndarray
    meter: np.ndarray
    own_heat: np.ndarray
    common_heat: np.ndarray
    arriving: np.ndarray


class Plant:
    """The inverters of a house through the steps of its weather and load."""

    def __init__(self, shared: oracle.Roofs, wiring: dict) -> None:
        self.shared, self.site = shared, shared.site
        names = [each["name"] for each in self.site["inverters"]]
        views = [alone(self.site, name, wired=False) for name in names]
        self.inverters = [
            Inverter(v, i) for v, i in zip(views, self.site["inverters"], strict=True)
        ]
        ghi, air = (shared.table[key].to_numpy() for key in ("ghi", "temp_air"))
        self.stiff = oracle_ac.network_voltage(self.site, ghi, oracle._hours(shared))
        own = np.array([oracle_ac.impedances(view)[0] for view in views])
        common = {**views[0], "grid": self.site["grid"]}
        lead, network = oracle_ac.impedances(common)
        self.ohms = Branches(network, lead, own, self.inverters[0].phases)
        self.load = oracle_load.load(self.site, shared.table)
        sides = [
            _direct(replace(shared, site=view), strings_of(wiring, name), air, self.stiff)
            for view, name in zip(views, names, strict=True)
        ]
        self.dc, self.converted, self.derating, self.drawn = (
            np.stack([side[k] for side in sides], axis=1) for k in range(4)
        )
        rated = np.array([inverter.rated for inverter in self.inverters])
        self.largest = np.minimum(
            self.converted, np.minimum(rated, [each.largest_va for each in self.inverters])
        )
        self.offer = np.minimum(np.minimum(self.converted, rated), self.derating)

    def flow(self, reactive: bool = True, export: bool = True, by_voltage: bool = True) -> Flow:
        """Return the state under some of the rules, mean over the parts of each step."""
        parts = self.load.shape[1]
        rules = {"reactive": reactive, "by_voltage": by_voltage}
        offer, drawn = (np.repeat(each, parts, axis=0) for each in (self.offer, self.drawn))
        stiff, load = np.repeat(self.stiff, parts), self.load.ravel()
        found = self._settled(offer, offer, drawn, stiff, load, rules)
        if export:
            found = self._inside(found, offer, drawn, stiff, load, rules)
        return found

    def mean(self, fine: np.ndarray) -> np.ndarray:
        """Return means over the parts of each step."""
        shape = (-1, self.load.shape[1], *fine.shape[1:])
        return fine.reshape(shape).mean(axis=1)

    def _inside(self, free, offer, drawn, stiff, load, rules) -> Flow:
        """Return the state whose export is inside the limit, bisecting what each may give."""
        limit = self.site["grid"].get("export_limit_w", np.inf)
        rows = np.flatnonzero(free.arriving - load > limit)
        if not rows.size:
            return free
        in_order = self.site["grid"].get("export_sharing") == "in-order"
        count = offer.shape[1] if in_order else 1
        low, high = np.zeros(rows.size), np.full(rows.size, float(count))
        start = free.volts[rows]
        for _ in range(_HALVINGS):
            half = 0.5 * (low + high)
            step = np.arange(offer.shape[1]) if in_order else np.zeros(offer.shape[1])
            most = offer[rows] * np.clip(half[:, None] - step, 0.0, 1.0)
            tried = self._settled(
                most, offer[rows], drawn[rows], stiff[rows], load[rows], rules, start
            )
            start = tried.volts
            over = tried.arriving - load[rows] > limit
            low, high = np.where(over, low, half), np.where(over, half, high)
        for name in vars(free):
            getattr(free, name)[rows] = getattr(tried, name)
        return free

    def _settled(self, most, offer, drawn, stiff, load, rules, start=None) -> Flow:
        """Return the state where each inverter may give so much, sweeping until nothing moves."""
        ohms, phases = self.ohms, self.ohms.phases
        size = stiff[:, None] if start is None else np.abs(start)
        volts = np.broadcast_to(size, most.shape).astype(complex)
        meter = stiff.astype(complex)
        damping = _DAMPING[any(each.follows_volts for each in self.inverters)]
        for _ in range(_MOST_SWEEPS):
            p, q = self._given(np.abs(volts), most, offer, rules)
            own = np.conj((p - drawn + 1j * q) / volts) / phases
            total = own.sum(axis=1)
            now = stiff + ohms.network * (total - np.conj(load / meter) / phases)
            new = (now + ohms.common * total)[:, None] + ohms.own * own
            gap = max(np.abs(new - volts).max(), np.abs(now - meter).max())
            volts, meter = volts + damping * (new - volts), meter + damping * (now - meter)
            if gap < _SETTLED_V:
                break
        else:
            raise AssertionError(f"the sweeps don't settle, {gap:.3g} V are left")
        return Flow(
            p,
            q,
            np.abs(new),
            np.abs(now),
            phases * ohms.own.real * np.abs(own) ** 2,
            phases * ohms.common.real * np.abs(total) ** 2,
            phases * (now * np.conj(total)).real,
        )

    def _given(self, volts, most, offer, rules) -> tuple[np.ndarray, np.ndarray]:
        pairs = [
            given(each, volts[:, k], most[:, k], offer[:, k], **rules)
            for k, each in enumerate(self.inverters)
        ]
        return np.stack([p for p, _ in pairs], axis=1), np.stack([q for _, q in pairs], axis=1)

    def voltages_without(self, p: np.ndarray, q: np.ndarray) -> np.ndarray:
        """Return each terminal's voltage without its own inverter, the others' powers standing."""
        found = np.zeros(p.shape)
        ohms, phases, load = self.ohms, self.ohms.phases, self.load.mean(axis=1)
        for k in range(p.shape[1]):
            others = np.arange(p.shape[1]) != k
            fed = (p - self.drawn + 1j * q) * others
            volts = np.repeat(self.stiff[:, None], p.shape[1], axis=1).astype(complex)
            meter = self.stiff.astype(complex)
            for _ in range(80):
                own = np.conj(fed / volts) / phases
                total = own.sum(axis=1)
                meter = self.stiff + ohms.network * (total - np.conj(load / meter) / phases)
                volts = (meter + ohms.common * total)[:, None] + ohms.own * own
            found[:, k] = np.abs(volts[:, k])
        return found


def _direct(shared: oracle.Roofs, wiring: dict, air: np.ndarray, stiff: np.ndarray) -> tuple:
    """Return DC, converted and derated power and own consumption of one inverter [W] (time,)."""
    inverter = shared.site["inverter"]
    nothing = np.zeros(air.size)
    dc, converted, top = nothing, nothing, nothing
    if wiring["trackers"]:
        power, volts = oracle._inputs(shared, wiring)
        dc, top = power.sum(axis=1), volts.max(axis=1)
        converted = oracle_ac.convert(inverter, power, volts)
    derating = oracle_ac.fixed_caps(shared.site, air, top, stiff)["derating"]
    drawn = np.where(dc <= 0.0, inverter.get("night_power_w", 0.0), 0.0)
    return dc, converted, derating, drawn + inverter.get("auxiliary_power_w", 0.0)


@dataclass
class JointYear:
    """What a wiring of several inverters gives.

    Steps of the budget, load and energies at the meter [kWh] by name; `volts`, `q` and `lost`
    (time, inverter) [V], [var], [1]; `meter` (time,) [V].
    """

    dc_kwh: float
    delivered_kwh: float
    steps: dict[str, float]
    at_meter: dict[str, float]
    volts: np.ndarray
    q: np.ndarray
    meter: np.ndarray
    lost: np.ndarray
    held_back: np.ndarray


def year(shared: oracle.Roofs, wiring: dict) -> JointYear:
    """Follow one wiring of several inverters to the meter."""
    plant = Plant(shared, wiring)
    bare = plant.mean(plant.flow(reactive=False, export=False, by_voltage=False).p)
    with_reactive = plant.mean(plant.flow(export=False, by_voltage=False).p)
    exportable = plant.mean(plant.flow(by_voltage=False).p)
    fed = plant.flow()
    p, q, own_heat, common_heat, volts, meter = (
        plant.mean(each)
        for each in (fed.p, fed.q, fed.own_heat, fed.common_heat, fed.volts, fed.meter)
    )
    without = plant.voltages_without(p, q)
    rise = np.where(p > plant.drawn, volts - without, 0.0)
    lost = np.stack(
        [
            oracle_network.lost_to_switch_off({**shared.site, "inverter": each.sheet}, w, r)
            for each, w, r in zip(plant.inverters, without.T, rise.T, strict=True)
        ],
        axis=1,
    )
    sent = np.maximum(p - plant.drawn - own_heat, 0.0)
    off = (sent * lost).sum(axis=1) / np.maximum(sent.sum(axis=1), 1e-9)
    kept = (1.0 - off) * shared.site["grid"].get("availability_percent", 100.0) / 100.0
    arriving = plant.mean(np.maximum(fed.arriving, 0.0))
    taken = plant.mean(np.maximum(-fed.arriving, 0.0))
    load = plant.load.ravel()
    self_use = kept * plant.mean(np.minimum(load, np.maximum(fed.arriving, 0.0)))
    after_leads = (exportable - plant.drawn - own_heat).sum(axis=1) - common_heat
    delivered = kept * arriving - taken
    limited = np.where(plant.derating < plant.largest, plant.largest, bare)
    watts = {
        "conversion": plant.dc - plant.converted,
        "AC limit": plant.converted - limited,
        "temperature derating": limited - bare,
        "reactive power": bare - with_reactive,
        "export limit": with_reactive - exportable,
        "auxiliary power": plant.drawn,
        "AC lead": own_heat,
        "common lead": common_heat,
        "network voltage": after_leads - (1.0 - off) * arriving + taken,
    }
    at_meter = {
        "p_load": plant.mean(load),
        "p_self_use": self_use,
        "p_export": kept * plant.mean(np.maximum(fed.arriving - load, 0.0)),
        "p_import": plant.mean(load) - self_use + taken,
    }
    return JointYear(
        shared.kwh(plant.dc.sum(axis=1)),
        shared.kwh(delivered),
        {
            name: shared.kwh(each.sum(axis=1) if each.ndim > 1 else each)
            for name, each in watts.items()
        },
        {name: shared.kwh(each) for name, each in at_meter.items()},
        volts,
        q,
        meter,
        lost,
        plant.converted - p,
    )
