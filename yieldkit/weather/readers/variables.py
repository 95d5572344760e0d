"""What canonical weather holds: every quantity with its unit and meaning."""

from __future__ import annotations

VARIABLES = {
    "ghi": ("W/m2", "global horizontal irradiance"),
    "dni": ("W/m2", "direct normal irradiance"),
    "dhi": ("W/m2", "diffuse horizontal irradiance"),
    "temp_air": ("degC", "ambient temperature"),
    "wind_speed": ("m/s", "wind speed"),
    "pressure": ("Pa", "air pressure"),
    "relative_humidity": ("%", "relative humidity"),
    "rain": ("mm", "rain in the step"),
    "snowfall": ("cm", "snow fallen in the step"),
    "snow_depth": ("cm", "snow on the ground"),
}
"""Unit and meaning by name; what was measured on planes is called by `measured_name`."""
