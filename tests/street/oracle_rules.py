"""A second opinion on what is allowed: voltages, currents, fuses and conductors by the rules."""

import numpy as np

from tests.street import oracle_cells, oracle_sky
from tests.street.oracle_ac import _REACTANCE_PER_M
from tests.street.oracle_circuit import cable_resistance, resistance_per_m

_COLD_FACTORS = (
    # NEC table 690.7(A): lowest ambient from, factor; read.
    (20, 1.02), (15, 1.04), (10, 1.06), (5, 1.08), (0, 1.10), (-5, 1.12), (-10, 1.14),
    (-15, 1.16), (-20, 1.18), (-25, 1.20), (-30, 1.21), (-35, 1.23), (-40, 1.25),
)  # fmt: skip
_SIZES = (1, 2, 4, 6, 8, 10, 12, 15, 16, 20, 25, 30, 32, 40)
"""Preferred ratings of fuses [A], IEC 60269-6 and NEC 240.6; from memory."""
_LEAD_AMPACITY = {
    # IEC 60364-5-52 tables B.52.2 to B.52.5, PVC, loaded conductors and method; read.
    (2, "B2"): {1.5: 16.5, 2.5: 23, 4: 30, 6: 38, 10: 52, 16: 69, 25: 90, 35: 111},
    (3, "B2"): {1.5: 15, 2.5: 20, 4: 27, 6: 34, 10: 46, 16: 62, 25: 80, 35: 99},
    (3, "C"): {1.5: 17.5, 2.5: 24, 4: 32, 6: 41, 10: 57, 16: 76, 25: 96, 35: 119},
}
_STRING_AMPACITY = {
    # EN 50618 table A.3 (IEC 62930), copper in air of 60 degC; read, the last two from memory.
    "free-in-air": {1.5: 30, 2.5: 41, 4: 55, 6: 70, 10: 98, 16: 132},
    "on-surface": {1.5: 29, 2.5: 39, 4: 52, 6: 67, 10: 93, 16: 125},
    "two-touching": {1.5: 24, 2.5: 33, 4: 44, 6: 57, 10: 79, 16: 107},
}
_WARM_AIR = {60: 1.0, 70: 0.92, 80: 0.84, 90: 0.75}  # EN 50618 table A.4; from memory
_TOGETHER = {1: 1.0, 2: 0.8, 3: 0.7, 4: 0.65, 5: 0.6, 6: 0.57, 7: 0.54, 8: 0.52, 9: 0.5}
"""Factors of circuits bunched, IEC 60364-5-52 table B.52.17; from memory."""
_FAULT_FACTOR = {"iec-62548-2016": 1.0}  # the others 1.25; read


def _parts(site: dict, string: dict) -> list[tuple[int, dict, dict]]:
    roofs = {roof["name"]: roof for roof in site["planes"]}
    sheets = {sheet["name"]: sheet for sheet in site["module_types"]}
    return [
        (g["modules"], roofs[g["plane"]], sheets[roofs[g["plane"]]["module_type"]])
        for g in string["groups"]
    ]


def cold_v_oc(site: dict, string: dict) -> float:
    """Return a string's open-circuit voltage at the lowest ambient [V]."""
    lowest = site["site"]["design_temperatures"]["lowest_ambient_c"]
    total = 0.0
    for count, roof, sheet in _parts(site, string):
        v_oc = sheet["v_oc_v"]
        beta = oracle_cells.coefficient(sheet.get("beta_voc"), v_oc)
        if beta is None:
            factor = next(f for at, f in _COLD_FACTORS if np.floor(lowest) >= at)
            total += count * v_oc * factor
            continue
        straight = v_oc + beta * (lowest - 25.0)
        rear = 1.0 + _rear_gain(roof)
        by_diode = (
            v_oc
            * oracle_cells.point(sheet, 1000.0 * rear, lowest, "v_oc")
            / oracle_cells.point(sheet, 1000.0, 25.0, "v_oc")
        )
        above = 1.0 + sheet.get("v_oc_tolerance_percent", 0.0) / 100.0
        total += count * max(straight, by_diode) * above
    return total


def v_oc_at_stc(site: dict, string: dict) -> float:
    """Return a string's open-circuit voltage at 25 degC, its stated tolerance counted [V]."""
    return sum(
        count * sheet["v_oc_v"] * (1.0 + sheet.get("v_oc_tolerance_percent", 0.0) / 100.0)
        for count, _, sheet in _parts(site, string)
    )


def hot_voltage(site: dict, string: dict, which: str) -> float:
    """Return a string's "v_mp" or "v_oc" with the cells of the highest ambient [V]."""
    highest = site["site"]["design_temperatures"]["highest_ambient_c"]
    total = 0.0
    for count, roof, sheet in _parts(site, string):
        hot = oracle_cells.point(sheet, 1000.0, oracle_sky.hot_cell(roof, highest), which)
        total += count * sheet[f"{which}_v"] * hot / oracle_cells.point(sheet, 1000.0, 25.0, which)
    return total


def short_circuit_a(site: dict, string: dict) -> float:
    """Return a string's short-circuit current at STC, light from behind included [A].

    Bifacial modules: 135 W/m2 from behind (IEC 61215-1:2021, from memory) or the plane's own,
    and never less than the plane's gain.
    """
    return max(
        sheet["i_sc_a"] * max(_rear_factor(roof, sheet), 1.0 + _rear_gain(roof))
        for _, roof, sheet in _parts(site, string)
    )


def _rear_gain(roof: dict) -> float:
    return roof.get("rear_gain_percent", 0.0) / 100.0


def _rear_factor(roof: dict, sheet: dict) -> float:
    behind = roof.get("rear_irradiance_w_m2", 135.0)
    if "i_sc_bnpi_a" in sheet:
        return 1.0 + (sheet["i_sc_bnpi_a"] / sheet["i_sc_a"] - 1.0) * behind / 135.0
    return 1.0 + sheet.get("bifaciality", 0.0) * behind / 1000.0


def fuses(site: dict, tracker: dict) -> dict:
    """Return whether an input's strings need fuses, and the window of their rating [A].

    IEC 62548:2016, 6.5.3 (read): needed where (n-1) Isc exceeds the module's rating; 1.5 to 2.4
    times Isc and at most that rating. IEC 60364-7-712:2017, 712.431 (read). IEC 62548-1:2023
    (read). NEC 2020, 690.9 (read): 1.56 times Isc or more.
    """
    profile = site.get("standards", {}).get("strings", "iec-62548-2016")
    strings = tracker["strings"]
    i_sc = max(short_circuit_a(site, string) for string in strings)
    rating = min(sheet["max_ocpr_a"] for s in strings for *_, sheet in _parts(site, s))
    others = (len(strings) - 1) * i_sc
    if profile == "iec-62548-2016":
        fault, allowed, low, high = others, rating, 1.5 * i_sc, min(2.4 * i_sc, rating)
    elif profile == "iec-60364-7-712-2017":
        fault, allowed = 1.25 * others, 1.35 * rating
        fault = 0.0 if len(strings) <= 2 else fault
        low, high = 1.1 * 1.25 * i_sc, rating
    elif profile == "iec-62548-1-2023":
        fault, allowed, low, high = 1.25 * others, rating, 1.25 * i_sc, rating
    else:
        fault, allowed, low, high = 1.25 * others, rating, 1.5625 * i_sc, rating
    inside = [
        size for size in _SIZES if (low <= size if profile == "nec-690" else low < size) <= high
    ]
    return {
        "needed": len(strings) > 1 and fault > allowed,
        "fault_a": fault,
        "allowed_a": allowed,
        "low_a": low,
        "high_a": high,
        "sizes": inside,
        "inclusive": profile == "nec-690",
    }


def design_current(site: dict) -> float:
    """Return the inverter's largest current of a phase [A]."""
    ac = site["inverter"]["ac"]
    watts = ac.get("max_apparent_power_va", ac.get("max_power_w", ac["nominal_power_w"]))
    factor = ac.get("power_factor", 1.0)
    return ac.get("max_current_a", watts / (ac["phases"] * ac["nominal_voltage_v"] * factor))


def lead_ampacity(site: dict) -> float:
    """Return the AC lead's ampacity in 30 degC, laid alone [A]."""
    lead = site["grid"]["lead"]
    loaded = 3 if site["inverter"]["ac"]["phases"] == 3 else 2
    return _LEAD_AMPACITY[loaded, lead["installation_method"]][lead["cross_section_mm2"]]


def lead_change_percent(site: dict) -> float:
    """Return the voltage change along the AC lead at its largest current [%]."""
    lead, ac = site["grid"]["lead"], site["inverter"]["ac"]
    factor = ac.get("power_factor", 1.0)
    per_m = resistance_per_m(lead, "class-2", 70.0) * factor
    per_m += _REACTANCE_PER_M * np.sqrt(1.0 - factor**2)
    paths = 2.0 if ac["phases"] == 1 else 1.0  # between phases both sides take the root of 3
    return 100.0 * paths * design_current(site) * lead["length_m"] * per_m / ac["nominal_voltage_v"]


def string_ampacity(cable: dict, on_input: int) -> tuple[float, float]:
    """Return what a string cable may carry [A], and the factor of heat and neighbours in it.

    Where the file is silent: in free air of 70 degC, six strings or all of the input together.
    """
    base = _STRING_AMPACITY[cable.get("laying_method", "free-in-air")][cable["cross_section_mm2"]]
    warm = next(f for at, f in _WARM_AIR.items() if cable.get("temp_ambient_c", 70.0) <= at)
    factor = warm * _TOGETHER[cable.get("circuits_bunched", max(6, on_input))]
    return base * factor * cable.get("conductors_in_parallel", 1), factor


def needed_ampacity(site: dict, tracker: dict, string: dict, fuse_a: float | None) -> float:
    """Return what a string cable has to carry [A]: the fuse, or what the others feed back."""
    profile = site.get("standards", {}).get("strings", "iec-62548-2016")
    own = 1.25 * short_circuit_a(site, string)
    if profile == "nec-690":  # 690.8(B): 1.25 of that again, before heat and neighbours
        own = max(own, 1.25 * own * string_ampacity(string["cable"], len(tracker["strings"]))[1])
    if fuse_a:
        return max(own, fuse_a)
    others = [other for other in tracker["strings"] if other is not string]
    fault = sum(short_circuit_a(site, other) for other in others)
    return max(own, _FAULT_FACTOR.get(profile, 1.25) * fault)


def string_drop_percent(site: dict, string: dict) -> float:
    """Return the voltage a string cable costs at rated current [%]."""
    parts = _parts(site, string)
    amperes = max(s["i_mp_a"] * (1.0 + _rear_gain(r)) for _, r, s in parts)
    volts = sum(count * sheet["v_mp_v"] for count, _, sheet in parts)
    return 100.0 * amperes * cable_resistance(string) / volts
