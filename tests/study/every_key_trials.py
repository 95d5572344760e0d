"""Other values of keys that can't be found by turning a number or a word."""

from typing import Any

from tests.study.every_key_sites import CABLE, SNOW

TRIALS: dict[tuple[str, str], list[Any]] = {
    ("AcLead", "cross_section_mm2"): [16.0],
    ("Cable", "cross_section_mm2"): [6.0],
    ("Cable", "material"): [
        {
            "wirings.0.trackers.0.strings.0.cable": CABLE
            | {"material": "aluminium", "conductor_class": "class-2", "cross_section_mm2": 10}
        }
    ],
    ("ColumnMap", "dni"): [None],
    ("ColumnMap", "dhi"): [None],
    ("ColumnMap", "wind_speed"): [None],
    ("ColumnMap", "pressure"): [None],
    ("ColumnMap", "relative_humidity"): [None],
    ("ColumnMap", "rain"): [None],
    ("ColumnMap", "snowfall"): [None],
    ("ColumnMap", "snow_depth"): [None],
    ("SnowByMonth", "kind"): [{"site.snow": {"kind": "from-snowfall"}}],
    ("SnowByMonth", "snow_cm"): [[25.0] * 12],
    ("SnowByMonth", "snow_days"): [[5.0] * 12],
    ("SnowByMonth", "relative_humidity_percent"): [[75.0] * 12],
    ("SnowFromSnowfall", "kind"): [{"site.snow": SNOW}],
    ("SnowFromSnowfall", "covering_cm_per_h"): [5.0],
    ("ColumnMap", "poa_global"): [{"weather.columns.poa_global": {"west roof": "light too"}}],
    ("ColumnMap", "temp_cell"): [{"weather.columns.temp_cell": {}}],
    ("ColumnMap", "temp_module"): [{"weather.columns.temp_module": {}}],
    ("LightSensor", "plane"): ["east roof"],
    ("DailySoiling", "cleaning_rain_mm"): [50.0],
    ("DailySoiling", "model"): [{"planes.0.soiling_from_rain": {"model": "kimber"}}],
    ("SettlingSoiling", "cleaning_rain_mm"): [50.0],
    ("SettlingSoiling", "model"): [{"planes.1.soiling_from_rain": {"model": "kimber"}}],
    ("SettlingSoiling", "rain_within_h"): [24],
    ("Plane", "soiling_by_month_percent"): [[3.0] * 12],
    ("DatasheetModule", "alpha_sc"): ["0.05 %/K"],
    ("DatasheetModule", "beta_voc"): ["-0.27 %/K"],
    ("DatasheetModule", "capacitance_nf_per_kwp"): [300.0],
    ("DatasheetModule", "gamma_pmp"): ["-0.33 %/K"],
    ("DatasheetModule", "i_mp_a"): [13.25],
    ("DatasheetModule", "i_sc_bnpi_a"): [15.5],
    ("DatasheetModule", "lead_length_m"): [2.2],
    ("DatasheetModule", "p_max_w"): [431.0],
    ("DatasheetModule", "power_tolerance_percent"): [[0.0, 5.0]],
    ("DatasheetModule", "v_mp_v"): [32.7],
    ("DcIsolator", "category"): ["DC-20"],
    ("EfficiencyTable", "loads"): [{"inverter.efficiency.loads.3": 0.31}],
    ("EfficiencyTable", "values"): [{"inverter.efficiency.values.1.3": 0.978}],
    ("EfficiencyTable", "voltages_v"): [{"inverter.efficiency.voltages_v.1": 600}],
    ("GridConnection", "availability_percent"): [98.0],
    ("GridConnection", "export_limit_w"): [5500.0],
    ("InstalledInverter", "type"): ["Smaller inverter (invented)"],
    ("Load", "column"): ["a"],
    ("Load", "clock"): [{"grid.load.clock": "standard", "grid.load.zone": None}],
    ("Load", "file"): ["more_loads.csv"],
    ("Load", "kwh_per_year"): [40_000.0],
    ("Load", "unit"): ["Wh"],
    ("Load", "hours_w"): [[700.0] * 24],
    ("Load", "kind"): [{"grid.load": {"kind": "constant", "power_w": 2500.0}}],
    ("Load", "power_w"): [2600.0],
    ("Load", "time"): ["later"],
    ("Load", "zone"): ["UTC+02:00"],
    ("ReactivePower", "kind"): [{"inverters.0.reactive": {"kind": "fixed"}}],
    ("ReactivePower", "points"): [[[0.5, 1.0], [1.0, 0.9]], [[0.95, 0.44], [1.0, -0.3]]],
    ("Group", "modules"): [12],
    ("Group", "plane"): [
        {
            "wirings.0.trackers.1.strings.0.groups.0.modules": 7,
            "wirings.0.trackers.2.strings.0.groups.0.plane": "east roof",
        }
    ],
    ("Inverter", "backfeed_current_a"): [6.0],
    ("Inverter", "max_altitude_m"): [200.0],
    ("ListedModule", "capacitance_nf_per_kwp"): [300.0],
    ("ListedModule", "lead_length_m"): [2.2],
    ("MpptInput", "max_operating_voltage_v"): [395.0],
    ("MpptInput", "restart_delay_s"): [7200.0],
    ("MpptInput", "start_power_w"): [900.0],
    ("MpptInput", "stop_power_w"): [290.0],
    ("MpptInput", "stop_voltage_v"): [205.0],
    ("MpptInput", "string_fuses_built_in_a"): [15.0],
    ("MpptInput", "tracking_efficiency"): [0.99],
    ("NetworkVoltage", "column"): ["a"],
    ("NetworkVoltage", "file"): ["more_volts.csv"],
    ("NetworkVoltage", "time"): ["later"],
    ("NetworkVoltage", "zone"): ["UTC+02:00"],
    ("PairLimit", "mppts"): [["MPPT 1", "MPPT 3"]],
    ("Place", "time_zone"): ["UTC+02:00"],
    ("Plane", "drawing"): [["MMM.", "MMMM"]],
    ("Plane", "module_type"): ["M410 (invented)"],
    ("Plane", "modules"): [
        {"planes.2.modules": 8, "planes.2.positions": [], "planes.2.cable_exit": None}
    ],
    ("TrackerStrings", "inverter"): [{"wirings.0.trackers.2.inverter": "hall"}],
    ("TrackerStrings", "mppt"): [
        {"wirings.0.trackers.1.mppt": "MPPT 3", "wirings.0.trackers.2.mppt": "MPPT 2"}
    ],
    ("Wall", "case_width_m"): [0.8],
    ("WeatherSource", "date_format"): ["month-first"],
    ("WeatherSource", "file"): ["others.csv"],
    ("WeatherSource", "fill_gaps_up_to_h"): [0.0],
    ("WeatherSource", "zone"): ["UTC+02:00"],
    ("WeightedEfficiency", "cec"): [0.968],
    ("WeightedEfficiency", "european"): [0.965],
    ("WiredString", "fuse_a"): [20.0],
}
"""By model and key; a mapping holds paths of several keys that only go together."""

_STANDS = "test_each_key_of_an_obstacle_changes_what_modules_get"
_KIND = "test_the_kind_of_an_entry_decides_how_it_is_read"
PROVEN_BELOW = {
    **{
        (model, key): _STANDS
        for model, keys in {
            "Box": ("shape", "foot_m", "width_m", "depth_m", "height_m", "azimuth_deg"),
            "Cylinder": ("shape", "foot_m", "diameter_m", "height_m"),
            "RoofSlope": (
                "shape",
                "corner_m",
                "width_m",
                "length_m",
                "tilt_deg",
                "azimuth_deg",
            ),
        }.items()
        for key in ("name", *keys, "transmittance", "transmittance_by_month")
    },
    ("Plane", "corner_m"): _STANDS,
    **{
        (model, key): "test_each_key_of_an_estimate_counts_or_is_told"
        for model, keys in {
            "Ageing": (
                "power_loss_percent_per_year",
                "spread_percent_per_year",
                "course",
                "source",
            ),
            "EstimateTerms": ("years", "outages_percent_by_month"),
            "YearToYear": ("spread_percent", "source"),
        }.items()
        for key in keys
    },
    **{
        (model, key): "test_each_key_of_an_offers_money_counts"
        for model, keys in {
            "Offer": ("currency", "outlay", "zone", "running_costs_per_year"),
            "Tariff": ("price_per_kwh",),
            "TariffPeriod": ("name", "price_per_kwh", "months", "days", "hours"),
            "Replacement": ("what", "after_year", "cost"),
            "Growth": ("purchase_percent", "feed_in_percent", "costs_percent"),
            "Discount": ("rate_percent", "kind", "inflation_percent"),
            "Tax": ("rate_percent", "written_off_over_years", "on_self_use"),
        }.items()
        for key in keys
    },
    **{
        (model, key): "test_each_key_of_an_offers_pages_is_carried_to_them"
        for model, keys in {
            "Offer": ("language", "number_format", "logo_file", "number", "date", "valid_until"),
            "Party": ("name", "lines"),
        }.items()
        for key in keys
    },
    ("SnowFromSnowfall", "frost_light_w_m2"): "test_snow_slides_where_it_is_warm_enough",
    **{
        (model, key): "test_each_key_below_the_hour_changes_what_is_drawn"
        for model, keys in {
            "MinuteFile": (
                "file",
                "format",
                "zone",
                "label",
                "latitude",
                "longitude",
                "altitude_m",
            ),
            "WithinHour": ("smoothed_over_min", "seed"),
        }.items()
        for key in keys
    },
    ("Place", "horizon_file"): "test_a_horizon_file_hides_what_it_holds",
    ("Site", "schema_version"): "test_another_version_is_refused",
    ("Price", "amount"): "test_a_price_is_told_where_inverters_are_chosen",
    ("Price", "currency"): "test_a_price_is_told_where_inverters_are_chosen",
    ("Site", "invented"): "test_an_invented_building_is_called_so",
    ("Place", "unusual_time_zone"): "test_a_clock_far_from_the_sun_is_asked_for",
    ("ColumnMap", "clock"): "test_which_column_holds_the_time_of_day_is_asked_for",
    ("WeatherSource", "format"): "test_the_format_says_how_a_file_is_read",
    ("WeatherSource", "decimal"): "test_decimals_that_may_be_thousands_are_asked_for",
    ("WeatherSource", "encoding"): "test_signs_that_nothing_tells_are_asked_for",
    ("DatasheetModule", "source"): _KIND,
    ("ListedModule", "source"): _KIND,
    ("EfficiencyTable", "kind"): _KIND,
    ("WeightedEfficiency", "kind"): _KIND,
    ("ListedEfficiency", "kind"): _KIND,
}
"""Keys whose effect no change of a single value shows, and the tests that prove them."""
