"""Three sites that together state every key of the schema, on two days of weather."""

import copy

import numpy as np
import pandas as pd
import pvlib

import yieldkit
from yieldkit.study.simulation.weather import site_weather

COLUMNS = {
    "time": "when",
    "ghi": "global",
    "dni": "beam",
    "dhi": "diffuse",
    "temp_air": "air",
    "wind_speed": "wind",
    "pressure": "pressure",
    "relative_humidity": "humidity",
    "rain": "rain",
    "snowfall": "snow",
    "snow_depth": "deep",
}
"""Each of these columns stands in the file once more, a little different, behind " too"."""
ON_PLANES = {
    "poa_global": {"west roof": "light", "east roof": "light too"},
    "temp_module": {"west roof": "back"},
    "temp_cell": {"east roof": "back"},
}
LEAD = {
    "length_m": 40,
    "cross_section_mm2": 10,
    "overcurrent_device_a": 32,
    "temp_ambient_c": 38,
    "circuits_bunched": 2,
}
CABLE = {
    "length_m": 60,
    "cross_section_mm2": 4,
    "rated_voltage_v": 1500,
    "laying_method": "two-touching",
    "temp_ambient_c": 72,
    "circuits_bunched": 3,
}
NETWORK = {
    "kind": "modelled",
    "voltage_v": 236,
    "daily_swing_v": 2,
    "load_term_v": 3,
    "neighbours_rise_v": 8,
    "noise_v": 2,
}
DATASHEET = {
    "initial_v_oc_excess_percent": 0.5,
    "v_oc_tolerance_percent": 1,
    "power_tolerance_percent": [0, 3],
    "noct_c": 45,
    "bifaciality": 0.7,
    "connector": "C4",
    "needs_functional_earthing": "no",
}
LISTED = {
    "source": "cec-list",
    "name": "M430 (invented)",
    "max_system_voltage_v": 1000,
    "max_ocpr_a": 20,
    "connector": "C4",
    "v_oc_tolerance_percent": 1,
    "length_m": 1.7,
    "width_m": 1.1,
    "lead_length_m": 1.2,
    "bifaciality": 0.6,
    "needs_functional_earthing": "no",
}
SNOW = {
    "kind": "by-month",
    "snow_cm": [20.0] * 12,
    "snow_days": [4.0] * 12,
    "relative_humidity_percent": [70.0] * 12,
}
KIMBER = {
    "model": "kimber",
    "loss_percent_per_day": 4.0,
    "cleaning_rain_mm": 7,
    "damp_days": 1,
    "most_loss_percent": 0.5,
}
HSU = {"model": "hsu", "pm2_5_ug_m3": 90, "pm10_ug_m3": 300, "cleaning_rain_mm": 7}
WEIGHTED = {
    "kind": "weighted",
    "european": 0.970,
    "cec": 0.972,
    "maximum": 0.980,
    "voltage_v": 600,
}
MATRIX = [
    {"irradiance_w_m2": 1000, "temp_cell_c": 25, "power_w": 430},
    {"irradiance_w_m2": 1000, "temp_cell_c": 50, "power_w": 395.6},
    {"irradiance_w_m2": 600, "temp_cell_c": 25, "power_w": 258.5},
    {"irradiance_w_m2": 200, "temp_cell_c": 25, "power_w": 83.8},
]
SECOND_TYPE = {"name": "M410 (invented)", "p_max_w": 410, "v_mp_v": 32.2, "i_mp_a": 12.74}


def filled(place):
    """Put two days of weather and of network voltage into a folder, written in several ways."""
    year = site_weather(yieldkit.load_site())
    days = year.isel(time=slice(24 * 155, 24 * 157))
    ahead = pd.Timedelta(seconds=year.attrs["utc_offset_s"])
    local = pd.DatetimeIndex(days.indexes["time"]) + ahead
    frame = pd.DataFrame({"when": local.strftime("%Y-%m-%d %H:%M")})
    for name, column in COLUMNS.items():
        if name != "time":
            frame[column] = days[name].to_numpy() if name in days else 101_000.0
    frame["humidity"] = 60.0
    frame["light"], frame["light too"] = frame["global"], 0.9 * frame["global"]
    frame["back"] = frame["air"] + 0.03 * frame["global"]
    frame["snow"], frame["deep"] = 0.0, 9.0
    frame.loc[10, "snow"] = 4.0
    frame["rain"] = np.where(np.arange(len(frame)) == 7, 8.0, 0.0)
    frame["when too"] = (local + pd.Timedelta(hours=1)).strftime("%Y-%m-%d %H:%M")
    for column in COLUMNS.values():
        if column != "when":
            frame[f"{column} too"] = frame[column] * 1.01
    frame.to_csv(place / "days.csv", index=False)
    frame.assign(air=frame["air"] + 2.0).to_csv(place / "others.csv", index=False)
    gaps = frame.copy()
    gaps.loc[[12, 13], ["global", "beam", "diffuse"]] = np.nan
    gaps["when"] = local.strftime("%d/%m/%Y %H:%M")
    gaps = gaps.rename(columns={"air": "air °C", "air too": "air °C too"})
    gaps.to_csv(place / "decimals.csv", index=False, sep=";", decimal=",", encoding="cp1252")
    wide = pd.date_range(local[0] - pd.Timedelta(days=1), periods=24 * 4, freq="h")
    swing = np.linspace(-4.0, 4.0, len(wide))
    volts = pd.DataFrame({"time": wide, "later": wide + pd.Timedelta(hours=1)})
    volts = volts.assign(a=236.0 + swing, b=241.0 + swing)
    volts.to_csv(place / "volts.csv", index=False)
    volts.assign(b=volts["b"] - 2.0).to_csv(place / "more_volts.csv", index=False)
    quarters = pd.date_range("2021-01-01", periods=365 * 96, freq="15min")
    watts = 2500.0 + 2400.0 * np.sin(np.arange(quarters.size) / 5.0)
    loads = pd.DataFrame({"time": quarters, "later": quarters + pd.Timedelta(hours=1)})
    # What is an hour later at the end of a year is at its beginning.
    loads["later"] = np.roll(quarters, -4)
    loads = loads.assign(a=watts + 300.0, b=watts)
    loads.to_csv(place / "loads.csv", index=False)
    loads.assign(b=watts + 500.0).to_csv(place / "more_loads.csv", index=False)


def listed_rows(table, **wanted):
    """Return rows of a bundled list whose figures lie in a span, by name."""
    found = pvlib.pvsystem.retrieve_sam(table).T
    for key, (low, high) in wanted.items():
        found = found[(found[key].astype(float) >= low) & (found[key].astype(float) <= high)]
    return sorted(found.index)


def plain(value):
    """Return content that can be edited."""
    if isinstance(value, dict):
        return {key: plain(each) for key, each in value.items()}
    return [plain(each) for each in value] if isinstance(value, list | tuple) else value


def edited(content, changes):
    """Return content with parts replaced, by paths written with dots."""
    new = copy.deepcopy(content)
    for path, value in changes.items():
        *parts, last = [int(part) if part.isdigit() else part for part in path.split(".")]
        inside = new
        for part in parts:
            inside = inside[part]
        inside[last] = value
    return new


def bases():
    """Return sites as keys and values by name, and rows of the bundled lists for other trials."""
    demo = plain(yieldkit.load_site().model_dump(exclude={"folder"}))
    demo["module_types"][0] |= DATASHEET
    two = demo["wirings"][0]
    two["trackers"][0]["strings"][0] |= {"cable": CABLE, "fuse_a": 25}
    two["trackers"][0]["strings"][1] |= {"cable": CABLE, "fuse_a": 25}
    other = copy.deepcopy(demo["wirings"][2])
    weather = {"file": "days.csv", "format": "csv", "columns": COLUMNS, "sampling": "mean"}
    weather["zone"] = "UTC+01:00"
    spreadsheet = {
        "file": "decimals.csv",
        "columns": COLUMNS | ON_PLANES | {"temp_air": "air °C"},
        "sensors": [
            {"plane": "west roof", "tilt_deg": 25, "azimuth_deg": 200, "gain": 1.1},
        ],
        "sampling": "snapshot",
        "sun_offset_min": 20,
        "fill_gaps_up_to_h": 3,
        "decimal": ",",
        "date_format": "day-first",
        "encoding": "cp1252",
    }
    first = edited(
        demo,
        {
            "notes": "Seen on the roof.",
            "site.altitude_m": 300,
            "weather": weather | {"label": "middle", "wind_height_m": 8},
            "wirings": [two, other],
            "planes.0.horizon": [
                {"azimuth_deg": 200, "elevation_deg": 12},
                {"azimuth_deg": 300, "elevation_deg": 9},
            ],
            "planes.2.drawing": [],
            "planes.2.positions": [{"row": 0, "column": n} for n in range(7)],
            "planes.0.rear_irradiance_w_m2": 150,
            "site.snow": SNOW,
            **{f"planes.{at}.slant_height_m": 4.0 for at in range(3)},
            "planes.0.soiling_from_rain": KIMBER,
            "planes.1.soiling_from_rain": HSU,
            "planes.2.soiling_by_month_percent": [2.0] * 12,
            "inverter.max_dc_power_pairs": [{"mppts": ["MPPT 1", "MPPT 2"], "max_power_w": 9000}],
            "inverter.max_dc_short_circuit_a": 120,
            "inverter.altitude_derating": {"above_m": 200, "percent_per_100_m": 5},
            "inverter.ac.power_factor": 0.97,
            "inverter.ac.export_limit_w": 12_000,
            "inverter.connector": "C4",
            "inverter.arc_detection": True,
            "inverter.rapid_shutdown": True,
            "inverter.derating": [
                {"temp_inlet_c": 20, "max_power_w": 15_000, "dc_voltage_v": 300},
                {"temp_inlet_c": 45, "max_power_w": 6000, "dc_voltage_v": 300},
                {"temp_inlet_c": 20, "max_power_w": 15_000, "dc_voltage_v": 600},
                {"temp_inlet_c": 45, "max_power_w": 5000, "dc_voltage_v": 600},
            ],
            "inverter_place.inlet_offset_k": 8,
            "grid.lead": LEAD,
            "grid.network_voltage": NETWORK,
            "grid.residual_current_device": "type-a",
            "grid.bonding_conductor_mm2": 6,
            "grid.busbar_rating_a": 63,
            "grid.main_device_a": 40,
            "standards.strings": "nec-690",
        },
    )
    rows = listed_rows("CECMod", I_sc_ref=(9.5, 10.5), V_oc_ref=(40, 48), gamma_r=(-0.5, -0.3))
    second = edited(
        first,
        {
            "module_types.0": LISTED | {"row": rows[0]},
            "site.snow": {"kind": "from-snowfall"},
            "inverter.mppts.0.mpp_voltage_max_v": 390,
            "inverter.mppts.0.full_power_voltage_max_v": 380,
            "inverter.ac.nominal_power_w": 9000,
            "inverter.ac.max_power_w": 9900,
            "inverter.ac.max_apparent_power_va": 9500,
            "inverter.efficiency": WEIGHTED,
            "grid.network_voltage": {"kind": "series", "file": "volts.csv", "column": "b"},
            "standards.strings": "iec-62548-2016",
            "weather": weather
            | {"label": "start", "columns": COLUMNS | {"dni": None, "dhi": None}},
        },
    )
    demo["module_types"].append(demo["module_types"][0] | SECOND_TYPE)
    inverters = listed_rows("cecinverter", Paco=(14_000, 16_000), Vdco=(500, 700))
    third = edited(
        demo,
        {
            "inverter.ac.nominal_power_w": 9000,
            "inverter.ac.max_power_w": 9000,
            "inverter.ac.max_apparent_power_va": None,
            "inverter.ac.max_current_a": None,
            "module_types.0.i_sc_bnpi_a": 15,
            "module_types.0.power_matrix": MATRIX,
            "inverter.efficiency": {"kind": "sandia-list", "row": inverters[0]},
            "weather": weather | spreadsheet,
            "wirings": [demo["wirings"][0], demo["wirings"][3]],
            "inverter.mppts.2.start_voltage_v": 210,
            "inverter.mppts.2.stop_voltage_v": 198,
            "inverter.mppts.2.start_power_w": 300,
            "inverter.mppts.2.stop_power_w": 200,
            "grid.network_voltage.voltage_v": 246,
            "grid.network_resistance_ohm": 0.7,
        },
    )
    day, series, constant, shape, wall = _two_inverters(demo, weather | {"label": "middle"})
    listed = {("ListedModule", "row"): rows[1:4], ("ListedEfficiency", "row"): inverters[1:4]}
    sites = {"datasheet": first, "listed module": second, "listed inverter": third}
    loads = {"measured load": series, "load": constant, "shape": shape, "another load": wall}
    return sites | {"two inverters": day} | loads, listed


def _two_inverters(demo, weather):
    """Return sites of two unlike inverters, with loads of a day, measured, constant, by a shape."""
    kind, place = demo["inverter"], demo["inverter_place"]
    smaller = edited(
        kind, {"name": "Smaller inverter (invented)", "ac.nominal_power_w": 3000, "derating": []}
    )
    smaller["ac"] |= {"max_power_w": 3000, "max_apparent_power_va": 3000, "max_current_a": 4.5}
    larger = edited(kind, {"ac.max_apparent_power_va": 15_000, "ac.max_current_a": 22})
    wired = copy.deepcopy(demo["wirings"][0])
    for tracker, name in zip(wired["trackers"], ("hall", "hall", "annex"), strict=True):
        tracker["inverter"] = name
    steep = [[0.9, 0.44], [0.95, -0.44]]
    by_power = [[0.2, 1.0], [1.0, 0.85]]
    day = {
        **demo,
        "schema_version": 2,
        "weather": weather,
        "inverter": None,
        "inverter_place": None,
        "inverter_types": [larger, smaller],
        "inverters": [
            {
                "name": name,
                "type": own["name"],
                "place": place,
                "lead": LEAD | {"length_m": 15},
                "reactive": {"kind": kind, "points": points, "priority": "reactive"},
            }
            for name, own, kind, points in (
                ("hall", larger, "q-of-u", steep),
                ("annex", smaller, "cos-phi-of-p", by_power),
            )
        ],
        "grid": demo["grid"]
        | {
            "lead": LEAD | {"cross_section_mm2": 16, "overcurrent_device_a": 50},
            "load": {"kind": "day", "hours_w": [300.0] * 8 + [2000.0] * 10 + [500.0] * 6},
            "export_limit_w": 6000,
            "export_sharing": "proportional",
        },
        "wirings": [wired],
    }
    measured = {
        "kind": "series",
        "file": "loads.csv",
        "column": "b",
        "time": "time",
        "zone": "UTC+01:00",
        "label": "start",
    }
    constant = {"kind": "constant", "power_w": 2000.0}
    shape = {
        "kind": "shape",
        "shape": "dwelling",
        "kwh_per_year": 30_000.0,
        "clock": "wall",
        "zone": "Europe/Berlin",
    }
    wall = {"kind": "series", "file": "loads.csv", "column": "b", "unit": "W"}
    return (
        day,
        edited(day, {"grid.load": measured, "inverters.0.reactive": None}),
        edited(day, {"grid.load": constant}),
        edited(day, {"grid.load": shape}),
        edited(day, {"grid.load": wall}),
    )
