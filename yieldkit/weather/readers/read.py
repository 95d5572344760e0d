"""Weather files in their formats, read through pvlib and pandas into the canonical Dataset."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from pathlib import Path

import pvlib
import xarray as xr

from yieldkit.base.errors import YieldkitError, nearest, refuse
from yieldkit.base.readable_files import other_than_file
from yieldkit.base.shipped import BUNDLED_WEATHER, data_set_names, shipped_folders
from yieldkit.base.time_zones import utc_offset
from yieldkit.weather.quality.clock import HEMISPHERE
from yieldkit.weather.readers.archives import read_epw, read_nsrdb, read_tmy2, read_tmy3
from yieldkit.weather.readers.canonical import Sampling, Station, from_frame
from yieldkit.weather.readers.source import Read, Source
from yieldkit.weather.readers.tables import read_canonical, read_table


def read_weather(
    file: str | Path, format: str, source: Source | None = None, decomposition: str = "erbs-driesse"
) -> xr.Dataset:
    """Read a weather file into the canonical Dataset.

    Parameters
    ----------
    file : str or Path
        A path, or the name of a shipped or bundled data set.
    format : str
        "canonical", "tmy3", "tmy2", "epw", "nsrdb", "csv" or "parquet".
    source : Source, optional
        What the file doesn't say, or says wrongly.
    decomposition : str
        Model for direct and diffuse where only global is given.

    Returns
    -------
    Dataset
        Weather over naive UTC time, with sampling, provenance and the quality account in its
        attributes.

    Raises
    ------
    InputError
        If the file can't be found or read, or its values or clock can't be trusted.
    """
    said = source or Source()
    path = find_file(file, format)
    reader = READERS.get(format)
    if reader is None:
        close = nearest(format, READERS)
        refuse(
            "weather.format",
            f"'{format}'",
            "one of " + ", ".join(READERS),
            remedy=f"Did you mean '{close}'?" if close else "",
        )
    try:
        read = reader(path, said)
    except YieldkitError:
        raise
    except Exception as error:  # any parser's complaint becomes one sentence
        refuse(
            str(path.name),
            f"a file that can't be read as {format} ({type(error).__name__}: {_first(error)})",
            f"a weather file of the format {format}",
            remedy="Check weather.format and open the file in a text editor.",
        )
    provenance = {
        "title": read.title,
        "attribution": read.attribution,
        "source": path.name,
        "sha256": hashlib.sha256(path.read_bytes()).hexdigest(),
    }
    dataset = from_frame(
        read.frame,
        _station(read.station, said),
        _sampling(read.sampling, said),
        typical=read.typical,
        decomposition=decomposition,
        fill_gaps_up_to_h=said.fill_gaps_up_to_h,
        provenance=provenance,
        where=path.name,
        remarks=read.remarks,
        sensors=said.sensors,
        albedo=said.albedo,
    )
    _refuse_wrong_sun(dataset, path.name, said)
    return dataset


def _first(error: Exception) -> str:
    lines = str(error).splitlines()
    return lines[0][:200] if lines else "no details"


def find_file(file: str | Path, format: str) -> Path:
    """Return the path of a weather file given by path or by a data set's name.

    Raises
    ------
    InputError
        If there is none; the nearest data set is suggested.
    """
    path = Path(file)
    if path.is_file():
        return path
    kind = other_than_file(path)
    if kind:
        refuse("weather.file", f"'{file}', which is {kind}", "a file that can be read whole")
    name = str(file)
    if name in BUNDLED_WEATHER:
        return Path(pvlib.__file__).parent / "data" / BUNDLED_WEATHER[name]
    for folder in shipped_folders("weather"):
        candidate = folder / f"{name}.csv"
        if candidate.is_file() and Path(name).name == name:
            return candidate
    names = data_set_names("weather")
    close = nearest(name, names)
    refuse(
        "weather.file",
        f"'{name}', which is not there",
        "a file, or one of the data sets " + ", ".join(names),
        remedy=f"Did you mean '{close}'?" if close else "Paths count from the site file's folder.",
    )


def _station(station: Station, said: Source) -> Station:
    if said.zone is not None:
        station = station._replace(utc_offset_s=utc_offset(said.zone, "weather.zone"))
    if said.wind_height_m is not None:
        station = station._replace(wind_height_m=said.wind_height_m)
    return station


def _sampling(sampling: Sampling, said: Source) -> Sampling:
    kind = said.sampling or sampling.kind
    label = said.label or sampling.label
    offset = sampling.sun_offset_s
    if said.sun_offset_min is not None:
        offset = 60.0 * said.sun_offset_min
    return Sampling(kind, label, offset)


def _refuse_wrong_sun(dataset: xr.Dataset, where: str, said: Source) -> None:
    quality = json.loads(dataset.attrs["quality"])
    if quality["clock"] == HEMISPHERE:
        refuse(
            f"{where}, latitude",
            f"light by which {quality['clock_text']}",
            "light of the site's own hemisphere",
            cause="The sign of site.latitude, or weather of another place?",
            remedy="North is positive, south is negative",
        )
    if quality["clock"] != "zone":
        return
    refuse(
        f"{where}, clock",
        f"irradiances that close {quality['clock_shift_min']:+.0f} minutes from the declared times",
        "a clock that agrees with the sun",
        cause=quality["clock_text"][0].upper() + quality["clock_text"][1:],
        remedy=f"The zone read was {said.zone or dataset.attrs['time_zone']}; write into the "
        f"weather block {quality['clock_remedy']}",
    )


READERS: dict[str, Callable[[Path, Source], Read]] = {
    "canonical": read_canonical,
    "tmy3": read_tmy3,
    "tmy2": read_tmy2,
    "epw": read_epw,
    "nsrdb": read_nsrdb,
    "csv": read_table,
    "parquet": read_table,
}
"""Formats; words of the configuration."""
