"""Several real years of one place, read at test time from packages that carry them.

Neither file says where it comes from in full; what is known stands beside each. Only global
irradiance is given, so that direct and diffuse light are modelled.
"""

from dataclasses import dataclass
from functools import cache

import numpy as np
import pandas as pd

from tests.archives import archive


@dataclass(frozen=True)
class Years:
    """A place and its years.

    Parameters
    ----------
    place : dict
        Changes of a site file that move it there.
    tables : dict of int to DataFrame
        Hourly ghi [W/m2], temp_air [degC] and wind_speed [m/s] by year, index in UTC.
    source : dict
        How such a table is read: sampling, label or offset.
    """

    place: dict
    tables: dict
    source: dict


@cache
def lowland():
    """Return five years, 2008 to 2012, of 52.3 N 4.8 E: hourly means that start at their label.

    The package says Amsterdam and nothing of its source; steps of 1 J/cm2, 0.1 degC and 1 m/s
    look like a station of the national weather service (inferred). Its rows of five minutes lie
    on straight lines between the hourly values, which are taken.
    """
    folder = archive("gl_gym==0.3.2") / "gl_gym" / "data" / "weather" / "Amsterdam"
    tables = {}
    for year in range(2008, 2013):
        rows = pd.read_csv(folder / f"{year}.csv").iloc[::12]
        times = pd.date_range(f"{year}-01-01", periods=len(rows), freq="h", tz="UTC")
        tables[year] = pd.DataFrame(
            {
                "ghi": rows["global radiation"].to_numpy(),
                "temp_air": rows["air temperature"].to_numpy(),
                "wind_speed": rows["wind speed"].to_numpy(),
            },
            index=times,
        )
    place = {
        "site.latitude": 52.318,
        "site.longitude": 4.79,
        "site.altitude_m": -3.0,
        "site.time_zone": "UTC+01:00",
    }
    return Years(place, tables, {"sampling": "mean", "label": "start"})


@cache
def highland():
    """Return three years, 2011 to 2013, of 39.7 N 105.2 W: hourly snapshots by satellite.

    From the National Solar Radiation Database by the file's name; every second row is taken. Its
    temperatures stop at 0 degC, which warms winters; it has no wind: 1 m/s is taken (assumed).
    """
    name = "system_50_ac_power_2_full_DST_psm3.parquet"
    folder = archive("pvanalytics==0.2.2") / "pvanalytics" / "data"
    rows = pd.read_parquet(folder / name).iloc[::2]
    times = pd.DatetimeIndex(pd.to_datetime(rows["index"], utc=True))
    table = pd.DataFrame(
        {
            "ghi": rows["ghi"].to_numpy(dtype=float),
            "temp_air": rows["temp_air"].to_numpy(dtype=float),
            "wind_speed": np.ones(len(rows)),
        },
        index=times,
    )
    own = pd.DatetimeIndex(times.tz_convert("Etc/GMT+7")).year
    tables = {year: table[own == year] for year in range(2011, 2014)}
    place = {
        "site.latitude": 39.7406,
        "site.longitude": -105.1775,
        "site.altitude_m": 1820.0,
        "site.time_zone": "UTC-07:00",
    }
    return Years(place, tables, {"sampling": "snapshot", "sun_offset_min": 0.0})
