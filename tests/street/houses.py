"""The houses of the street: where each stands, how its weather is made, what it is asked for."""

import shutil
from dataclasses import dataclass
from pathlib import Path

import pandas as pd
import pvlib
import yaml

from tests.street.invented_load import invented_load
from tests.street.invented_weather import Climate, Gaps, holed, invented
from tests.street.weather_files import FORMS
from yieldkit.base.time_zones import utc_offset

_SITES = Path(__file__).parent
_PACKAGED = Path(pvlib.__file__).parent / "data"


@dataclass(frozen=True)
class House:
    """A house of the street.

    Parameters
    ----------
    folder : str
        Where its site file lies.
    form : str
        In which form its weather is written, or "tmy3" for a packaged year.
    climate : Climate, optional
        What its invented weather is drawn from.
    wishes : tuple of str
        Options of the proposal.
    report : bool
        Whether the reports are made too.
    apart : str
        Command that is run as a process of its own, as by `python -m yieldkit`.
    gaps : Gaps, optional
        What its weather file lacks.
    station : dict, optional
        Where its weather was measured, if not at the house: `latitude`, `longitude`, `altitude_m`.
    code : int
        How the check of all its wirings ends: 0 permitted, 1 not, 4 essential limits open.
    load_seed : int, optional
        What its measured load is drawn from, if its site file has one.
    """

    folder: str
    form: str
    climate: Climate | None = None
    wishes: tuple[str, ...] = ()
    report: bool = False
    apart: str = ""
    gaps: Gaps | None = None
    station: dict | None = None
    code: int = 4
    load_seed: int | None = None


STREET = (
    House(
        "house_east_west",
        "canonical",
        Climate("2023-01-01", 365, 60, seed=11),
        ("--leave-out", "1"),
        code=0,
    ),
    House("flat_roof_50_kw", "tmy3", wishes=("--shortest", "17", "--longest", "17"), code=0),
    House(
        "alpine_hut",
        "global only",
        Climate("2022-01-01", 365, 30, seed=12, cloudiness=0.2, mean_c=-1.0, season_k=8.0),
        ("--shortest", "20", "--leave-out", "4"),
    ),
    House(
        "hot_highland",
        "own columns",
        Climate("2021-01-01", 365, 60, seed=13, cloudiness=0.15, mean_c=24.0, season_k=4.0),
        ("--shortest", "19"),
    ),
    House(
        "far_north",
        "epw",
        Climate("2023-01-01", 365, 60, seed=14, cloudiness=0.4, mean_c=3.0, season_k=8.0),
        ("--leave-out", "3"),
        apart="check",
        code=0,
    ),
    House(
        "south_quarter_hours",
        "own columns",
        Climate("2023-08-01", 150, 15, seed=15, cloudiness=0.25, mean_c=18.0, warmest_day=20),
        ("--leave-out", "2"),
    ),
    House(
        "half_hour_zone",
        "canonical",
        Climate("2023-01-01", 365, 60, seed=16, cloudiness=0.3, mean_c=27.0, warmest_day=150),
        ("--shortest", "22", "--leave-out", "4"),
        code=1,
    ),
    House(
        "single_phase",
        "aware columns",
        Climate("2023-01-01", 365, 60, seed=17, cloudiness=0.2, mean_c=15.0),
        ("--leave-out", "2"),
    ),
    House(
        "bifacial_18_a",
        "canonical",
        Climate("2023-01-01", 365, 60, seed=18, cloudiness=0.25, mean_c=14.0),
        ("--leave-out", "6"),
        code=1,
    ),
    House(
        "export_limited",
        "canonical",
        Climate("2022-01-01", 365, 60, seed=19, cloudiness=0.45, mean_c=10.0),
        ("--shortest", "12", "--leave-out", "2"),
        code=0,
    ),
    House(
        "weak_network",
        "aware columns",
        Climate("2023-01-01", 365, 60, seed=20, cloudiness=0.4, mean_c=9.0),
        ("--shortest", "15", "--leave-out", "4"),
        code=0,
    ),
    House(
        "nec_ranch",
        "epw",
        Climate("2021-01-01", 365, 60, seed=21, cloudiness=0.15, mean_c=16.0),
        ("--shortest", "16", "--leave-out", "4"),
        code=1,
    ),
    House(
        "old_fuses",
        "canonical",
        Climate("2023-01-01", 365, 60, seed=22, cloudiness=0.4, mean_c=9.0),
        ("--shortest", "20", "--leave-out", "6"),
        apart="compare",
        code=1,
    ),
    House(
        "bare_datasheet",
        "canonical",
        Climate("2023-01-01", 365, 60, seed=23, cloudiness=0.3, mean_c=12.0),
        ("--leave-out", "7"),
        code=1,
    ),
    House(
        "shed_since_april",
        "semicolons",
        Climate("2023-04-01", 120, 60, seed=24, cloudiness=0.3, mean_c=11.0),
        ("--shortest", "12", "--leave-out", "3"),
        report=True,
        code=0,
    ),
    House(
        "borrowed_weather",
        "canonical",
        Climate("2022-08-20", 90, 60, seed=25, cloudiness=0.35, mean_c=11.0),
        ("--leave-out", "2"),
        report=True,
        gaps=Gaps(
            outage=("2022-09-13T09:00", 48),
            without_all=("2022-08-28T12:00", "2022-10-02T00:00", "2022-10-20T11:00"),
            without_warmth=("2022-09-30T18:00", "2022-11-05T10:00"),
        ),
        station={"latitude": 47.1, "longitude": 9.8, "altitude_m": 430},
    ),
    House(
        "walnut_barn",
        "canonical",
        Climate("2023-10-27", 10, 60, seed=30, cloudiness=0.25, mean_c=9.0),
        ("--leave-out", "2"),
        report=True,
        code=0,
    ),
)
"""Houses of one inverter."""

SHARED_METERS = (
    House(
        "twin_roofs", "canonical", Climate("2023-01-01", 365, 60, seed=26, cloudiness=0.3), code=0
    ),
    House(
        "three_sheds",
        "semicolons",
        Climate("2023-05-02", 36, 60, seed=27, cloudiness=0.3, mean_c=14.0),
        report=True,
        load_seed=28,
        code=0,
    ),
    House(
        "valley_dairy",
        "aware columns",
        Climate("2023-11-20", 60, 60, seed=29, cloudiness=0.25, mean_c=15.0, warmest_day=20),
        apart="check",
        code=0,
    ),
)
"""Houses of several inverters behind one meter."""


def house(folder: str) -> House:
    """Return a house by its folder's name."""
    return next(each for each in (*STREET, *SHARED_METERS) if each.folder == folder)


def build(which: House, into: Path) -> tuple[Path, pd.DataFrame]:
    """Put a house's site file and weather into a folder of its own.

    Returns
    -------
    tuple of (Path, DataFrame)
        The site file, and its weather as it was written: index in UTC at the start of each step,
        nan where the file lacks a value.
    """
    own = into / which.folder
    own.mkdir(parents=True)
    site_file = own / "site.yaml"
    shutil.copyfile(_SITES / which.folder / "site.yaml", site_file)
    content = yaml.safe_load(site_file.read_text(encoding="utf-8"))
    place, weather = content["site"], content["weather"]
    offset_h = utc_offset(place["time_zone"]) / 3600.0
    target = own / weather["file"]
    target.parent.mkdir(exist_ok=True)
    if which.climate is None:
        shutil.copyfile(_PACKAGED / weather["file"], target)
        table = _typical_year(target)
    else:
        station = which.station or place
        table = invented(station, which.climate, offset_h)
        if which.gaps is not None:
            table = holed(table, which.gaps, offset_h)
        FORMS[which.form](table, target, station, offset_h)
        if which.form == "global only":
            table = table[["ghi", "temp_air", "wind_speed"]]
    table.attrs = {
        "offset_h": offset_h,
        "wind_height_m": weather.get("wind_height_m", 10.0),
        "station": which.station,
    }
    if which.load_seed is not None:
        table.attrs["load"] = _write_load(own / content["grid"]["load"]["file"], which.load_seed)
    return site_file, table


def _write_load(path: Path, seed: int) -> pd.Series:
    """Write a measured load as a meter's table, and return it."""
    load = invented_load(seed)
    path.parent.mkdir()
    load.to_csv(path, index_label="Quarter hour", header=["Load W"])
    return load


def _typical_year(path: Path) -> pd.DataFrame:
    """Read a TMY3 file: months of many years put into one, hours that end at their labels."""
    frame, _ = pvlib.iotools.read_tmy3(path, map_variables=True, coerce_year=2018)
    names = ["ghi", "dni", "dhi", "temp_air", "wind_speed"]
    return frame[names].set_axis((frame.index - pd.Timedelta(hours=1)).tz_convert("UTC"))
