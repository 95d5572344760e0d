"""The invented weather written as people and stations write it: one function a form."""

import json
from collections.abc import Callable
from pathlib import Path

import pandas as pd

_EPW_PLACE = "LOCATION,Invented,-,-,invented,000000,{latitude},{longitude},{offset},{altitude}\n"
_EPW_HEAD = (
    "DESIGN CONDITIONS,0\nTYPICAL/EXTREME PERIODS,0\nGROUND TEMPERATURES,0\n"
    "HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0\nCOMMENTS 1,invented\nCOMMENTS 2,invented\n"
    "DATA PERIODS,1,1,Data,Sunday, 1/ 1,12/31\n"
)


def _local(table: pd.DataFrame, offset_h: float) -> pd.DataFrame:
    return table.set_axis(table.index.tz_convert(None) + pd.Timedelta(hours=offset_h), axis="index")


def canonical(table: pd.DataFrame, path: Path, place: dict, offset_h: float) -> None:
    """Write the plain form of our own: one line of facts, then a table by the local clock."""
    hours = int(offset_h)
    minutes = round(60 * abs(offset_h - hours))
    facts = {
        "title": "Invented year",
        "latitude": place["latitude"],
        "longitude": place["longitude"],
        "altitude_m": place["altitude_m"],
        "time_zone": f"UTC{hours:+03d}:{minutes:02d}",
        "sampling": "mean",
        "label": "start",
        "wind_height_m": 10.0,
    }
    # A logger that stood still for hours writes no rows; a lone hour it writes empty.
    silent = table.isna().all(axis=1)
    standing = silent & (silent.shift(1, fill_value=False) | silent.shift(-1, fill_value=False))
    rows = _local(table[~standing], offset_h).to_csv(
        index_label="time", date_format="%Y-%m-%dT%H:%M"
    )
    path.write_text(f"# canonical weather: {json.dumps(facts)}\n{rows}", encoding="utf-8")


def own_columns(table: pd.DataFrame, path: Path, place: dict, offset_h: float) -> None:
    """Write a logger's table: its own column names, its own clock, rows that end at their time."""
    local = _local(table, offset_h)
    ended = local.set_axis(local.index + (local.index[1] - local.index[0]), axis="index")
    names = {
        "ghi": "Global W/m2",
        "dni": "Direct W/m2",
        "dhi": "Diffuse W/m2",
        "temp_air": "Air degC",
        "wind_speed": "Wind m/s",
    }
    ended[list(names)].rename(columns=names).to_csv(
        path, index_label="End of interval", date_format="%Y-%m-%d %H:%M"
    )


def semicolons(table: pd.DataFrame, path: Path, place: dict, offset_h: float) -> None:
    """Write a spreadsheet's table: semicolons, decimal commas, days before months."""
    names = {
        "ghi": "Global",
        "dni": "Direct",
        "dhi": "Diffuse",
        "temp_air": "Air",
        "wind_speed": "Wind",
    }
    _local(table, offset_h)[list(names)].rename(columns=names).to_csv(
        path, sep=";", decimal=",", index_label="Begin", date_format="%d.%m.%Y %H:%M"
    )


def global_only(table: pd.DataFrame, path: Path, place: dict, offset_h: float) -> None:
    """Write a Parquet table with an aware index and no split into direct and diffuse."""
    frame = table[["ghi", "temp_air", "wind_speed"]].rename(
        columns={"ghi": "G_hor", "temp_air": "T_amb", "wind_speed": "v_wind"}
    )
    frame.rename_axis("start_utc").reset_index().to_parquet(path)


def aware_columns(table: pd.DataFrame, path: Path, place: dict, offset_h: float) -> None:
    """Write a Parquet table with an aware time column and all three irradiances."""
    table.rename_axis("start_utc").reset_index().to_parquet(path)


def epw(table: pd.DataFrame, path: Path, place: dict, offset_h: float) -> None:
    """Write an EnergyPlus weather file: hours 1 to 24, each the mean of the hour before it."""
    local = _local(table, offset_h)
    head = _EPW_PLACE.format(
        latitude=place["latitude"],
        longitude=place["longitude"],
        offset=offset_h,
        altitude=float(place["altitude_m"]),
    )
    rows = [
        f"{at.year},{at.month},{at.day},{at.hour + 1},60,invented,{row.temp_air},9.9,50,"
        f"{row.pressure:.0f},0,0,300,{row.ghi},{row.dni},{row.dhi},0,0,0,0,180,{row.wind_speed},"
        "5,5,20,1000,9,999999999,0,0,0,99,0,0,0\n"
        for at, row in zip(local.index, local.itertuples(), strict=True)
    ]
    path.write_text(head + _EPW_HEAD + "".join(rows), encoding="utf-8")


FORMS: dict[str, Callable[[pd.DataFrame, Path, dict, float], None]] = {
    "canonical": canonical,
    "own columns": own_columns,
    "semicolons": semicolons,
    "global only": global_only,
    "aware columns": aware_columns,
    "epw": epw,
}
"""Forms by name."""
