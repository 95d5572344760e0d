"""What the numbers of a site file may be whose type alone allows nearly everything."""

from __future__ import annotations

from typing import NamedTuple

_MILLI_A = ((0.001, "In milliamperes?"),)
_KILO_V = ((1000.0, "In kilovolts?"), (0.001, "In millivolts?"))
_KILO_W = ((1000.0, "In kilowatts?"), (0.001, "In milliwatts?"))
_SHORT = ((0.001, "In millimetres?"), (0.01, "In centimetres?"))
_SECONDS = ((0.001, "In milliseconds?"),)
_TENTH = ((0.1, "A slipped decimal point?"), (0.01, "A slipped decimal point?"))


class Size(NamedTuple):
    """What a number may be, and what to multiply it with if it is in another unit."""

    least: float
    most: float
    unit: str
    slips: tuple[tuple[float, str], ...] = ()
    or_zero: bool = False


# All sizes: common practice, no source; wide enough for every plant on a low-voltage network.
_AMPERES = Size(0.5, 6300.0, "A", _MILLI_A)
_FUSE = Size(0.5, 200.0, "A", _MILLI_A)
_RATED_V = Size(50.0, 5000.0, "V", _KILO_V)
_INPUT_V = Size(5.0, 3000.0, "V", _KILO_V)
_PLANT_W = Size(50.0, 2e6, "W", _KILO_W)
_RISE_V = Size(0.0, 60.0, "V", ((0.001, "In millivolts?"),))
_DELAY_S = Size(0.0, 7200.0, "s", _SECONDS)
_CONDUCTOR_C = Size(-40.0, 150.0, "degC")
_AIR_C = Size(-50.0, 120.0, "degC")
_PERCENT = Size(0.0, 20.0, "%", _TENTH)

_MODULE = {
    "p_max_w": Size(0.05, 2000.0, "W", _KILO_W),
    "v_oc_v": Size(0.4, 1000.0, "V", _KILO_V),
    "v_mp_v": Size(0.3, 1000.0, "V", _KILO_V),
    "i_sc_a": Size(0.01, 100.0, "A", _MILLI_A),
    "i_mp_a": Size(0.01, 100.0, "A", _MILLI_A),
    "i_sc_bnpi_a": Size(0.01, 115.0, "A", _MILLI_A),
    "cells_in_series": Size(1.0, 1000.0, "cells"),
    "bypass_diodes": Size(1.0, 200.0, "diodes"),
    "v_oc_tolerance_percent": _PERCENT,
    "initial_v_oc_excess_percent": _PERCENT,
    "relative_efficiency_200": Size(0.5, 1.2, "as a share", ((0.01, "In percent?"),)),
    "max_system_voltage_v": Size(20.0, 5000.0, "V", _KILO_V),
    "max_ocpr_a": _FUSE,
    "length_m": Size(0.05, 5.0, "m", ((1000.0, "In kilometres?"), *_SHORT)),
    "width_m": Size(0.05, 5.0, "m", ((1000.0, "In kilometres?"), *_SHORT)),
    "lead_length_m": Size(0.05, 20.0, "m", _SHORT),
    "capacitance_nf_per_kwp": Size(
        1.0, 10_000.0, "nF per kWp", ((1000.0, "In microfarads?"), (0.001, "In picofarads?"))
    ),
    "power_matrix.irradiance_w_m2": Size(
        20.0, 1500.0, "W/m2", ((1000.0, "In kilowatts per square metre?"),)
    ),
    "power_matrix.temp_cell_c": Size(-50.0, 120.0, "degC"),
    "power_matrix.power_w": Size(0.001, 2000.0, "W", _KILO_W),
}
_INPUT = {
    "connectors": Size(1.0, 100.0, "connectors"),
    "max_current_per_connector_a": _AMPERES,
    "max_voltage_v": Size(20.0, 3000.0, "V", _KILO_V),
    "start_voltage_v": _INPUT_V,
    "stop_voltage_v": _INPUT_V._replace(least=1.0),
    "start_power_w": Size(0.0, 10_000.0, "W", ((0.001, "In milliwatts?"),)),
    "stop_power_w": Size(0.0, 10_000.0, "W", ((0.001, "In milliwatts?"),)),
    "start_delay_s": _DELAY_S,
    "restart_delay_s": _DELAY_S,
    "mpp_voltage_min_v": _INPUT_V,
    "mpp_voltage_max_v": _INPUT_V,
    "full_power_voltage_min_v": _INPUT_V,
    "full_power_voltage_max_v": _INPUT_V,
    "max_input_current_a": _AMPERES,
    "short_circuit_rating_a": _AMPERES,
    "max_power_w": _PLANT_W,
    "max_operating_voltage_v": _INPUT_V,
    "string_fuses_built_in_a": _FUSE,
}
_INVERTER = {
    "max_dc_power_w": _PLANT_W,
    "max_dc_power_pairs.max_power_w": _PLANT_W,
    "max_dc_short_circuit_a": _AMPERES,
    "backfeed_current_a": _AMPERES._replace(least=0.0),
    "connector_rated_voltage_v": _RATED_V,
    "altitude_derating.percent_per_100_m": Size(0.0, 10.0, "%", ((0.1, "Per kilometre?"),)),
    "derating.temp_inlet_c": Size(-50.0, 120.0, "degC"),
    "derating.max_power_w": _PLANT_W._replace(or_zero=True),
    "derating.dc_voltage_v": _INPUT_V,
    "efficiency.voltages_v": _INPUT_V,
    "efficiency.voltage_v": _INPUT_V,
    "ac.nominal_power_w": _PLANT_W,
    "ac.max_power_w": _PLANT_W,
    "ac.max_apparent_power_va": _PLANT_W._replace(
        unit="VA", slips=((1000.0, "In kilovolt-amperes?"),)
    ),
    "ac.max_current_a": _AMPERES._replace(least=0.1),
    "ac.nominal_voltage_v": Size(50.0, 1000.0, "V", _KILO_V),
    "ac.export_limit_w": _PLANT_W._replace(or_zero=True),
    "ac.max_overcurrent_device_a": _AMPERES,
    "dc_isolator.rated_voltage_v": _RATED_V,
    "dc_isolator.rated_current_a": _AMPERES,
    "dc_isolator.poles": Size(1.0, 16.0, "poles"),
    "surge_protection.dc_max_continuous_voltage_v": _RATED_V,
}
_GRID = {
    "load_w": Size(1.0, 2e6, "W", _KILO_W, or_zero=True),
    "load.power_w": Size(1.0, 2e6, "W", _KILO_W, or_zero=True),
    "load.hours_w": Size(1.0, 2e6, "W", _KILO_W, or_zero=True),
    "load.kwh_per_year": Size(20.0, 1e7, "kWh", ((1000.0, "In MWh?"), (0.001, "In Wh?"))),
    "export_limit_w": _PLANT_W._replace(or_zero=True),
    "busbar_rating_a": _AMPERES,
    "main_device_a": _AMPERES,
    "network_voltage.voltage_v": Size(50.0, 1000.0, "V", _KILO_V),
    "network_voltage.daily_swing_v": _RISE_V,
    "network_voltage.load_term_v": _RISE_V,
    "network_voltage.neighbours_rise_v": _RISE_V,
    "network_voltage.noise_v": _RISE_V,
    "network_voltage.correlation_time_min": Size(
        0.1, 10_080.0, "min", ((1.0 / 60.0, "In seconds?"), (60.0, "In hours?"))
    ),
}
_LEAD = {
    "overcurrent_device_a": _AMPERES,
    "temp_conductor_c": _CONDUCTOR_C,
    "temp_ambient_c": _AIR_C,
    "circuits_bunched": Size(1.0, 200.0, "circuits"),
}
_CABLE = {
    "temp_conductor_c": _CONDUCTOR_C,
    "temp_ambient_c": _AIR_C,
    "rated_voltage_v": _RATED_V,
    "circuits_bunched": Size(1.0, 200.0, "circuits"),
}
_WALL = {
    "width_m": Size(0.1, 200.0, "m", _SHORT),
    "height_m": Size(0.1, 50.0, "m", _SHORT),
    "case_width_m": Size(0.05, 5.0, "m", _SHORT),
    "case_height_m": Size(0.05, 5.0, "m", _SHORT),
    "inverters": Size(1.0, 500.0, "inverters"),
}
_OBSTACLE = {
    "width_m": Size(0.02, 500.0, "m", _SHORT),
    "depth_m": Size(0.02, 500.0, "m", _SHORT),
    "height_m": Size(0.02, 150.0, "m", _SHORT),
    "diameter_m": Size(0.005, 100.0, "m", _SHORT),
    "length_m": Size(0.02, 500.0, "m", _SHORT),
}
_TYPES, _PLACES = ("inverter", "inverter_types"), ("inverter_place", "inverters.place")
SIZES = {
    **{f"module_types.{key}": size for key, size in _MODULE.items()},
    **{f"{at}.mppts.{key}": size for at in _TYPES for key, size in _INPUT.items()},
    **{f"{at}.{key}": size for at in _TYPES for key, size in _INVERTER.items()},
    **{f"grid.{key}": size for key, size in _GRID.items()},
    **{f"wirings.trackers.strings.cable.{key}": size for key, size in _CABLE.items()},
    **{f"{at}.lead.{key}": size for at in ("grid", "inverters") for key, size in _LEAD.items()},
    **{f"{at}.wall.{key}": size for at in _PLACES for key, size in _WALL.items()},
    **{f"obstacles.{key}": size for key, size in _OBSTACLE.items()},
    "wirings.trackers.strings.fuse_a": _FUSE,
    "wirings.trackers.strings.groups.modules": Size(1.0, 1000.0, "modules"),
    "planes.modules": Size(1.0, 20_000.0, "modules"),
    "site.ground_flash_density_per_km2_year": Size(0.0, 300.0, "per km2 and year", _TENTH),
}
"""What the numbers may be whose type alone allows nearly everything, by their keys."""
