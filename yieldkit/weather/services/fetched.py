"""Weather of a place, asked of a service or taken from what it answered before, as a file."""

from __future__ import annotations

import json
import re
import tempfile
from datetime import UTC, datetime
from pathlib import Path
from typing import NamedTuple

import pandas as pd
import xarray as xr

from yieldkit.base.coordinates import degrees_text, place_in_name
from yieldkit.base.errors import nearest, refuse
from yieldkit.base.files import write_text
from yieldkit.base.private_folders import private_folder
from yieldkit.base.time_zones import utc_offset, zone_name
from yieldkit.config.site.starter import usual_weather
from yieldkit.weather.readers.read import read_weather
from yieldkit.weather.readers.tables import canonical_head, canonical_text
from yieldkit.weather.services import asking
from yieldkit.weather.services.cache import keep_answer, kept_answer
from yieldkit.weather.services.services import (
    SERVICES,
    Answer,
    Question,
    credentials,
    secrets,
    years_text,
)

TYPICAL, HOURLY = "jrc-typical-year", "jrc-hourly"
_YEARS = re.compile(r"^((?:19|20)\d\d)(?:\s*-\s*((?:19|20)\d\d))?$")
_COMMON_YEAR = 2018
_DECIMALS = 3


class Fetched(NamedTuple):
    """An answer, its question, the day it was given, and whether it had been kept."""

    question: Question
    answer: Answer
    day: str
    kept: bool


def asked_question(
    source: str | None, years: str | None, latitude: float, longitude: float
) -> Question:
    """Return the question that the words of the command line mean.

    Parameters
    ----------
    source : str or None
        A key of `SERVICES`; by default hourly years where years are named, else a typical year.
    years : str or None
        "2018" or "2016-2018".
    latitude, longitude : float
        [deg].

    Raises
    ------
    InputError
        For an unknown source, years that are none, or years a source has or lacks.
    """
    span = _span(years)
    word = source or (HOURLY if span else TYPICAL)
    if word not in SERVICES:
        close = nearest(word, SERVICES)
        remedy = f"Did you mean '{close}'?" if close else ""
        refuse("--source", f"'{word}'", "one of " + ", ".join(SERVICES), remedy=remedy)
    service = SERVICES[word]
    if span is None and not service.typical:
        refuse("--years", f"no years with {word}", "years, such as --years 2018-2020")
    if service.needs_key:
        credentials()
    return Question(word, latitude, longitude, span)


def _span(years: str | None) -> tuple[int, int] | None:
    if years is None:
        return None
    found = _YEARS.match(years.strip())
    first, last = (int(found[1]), int(found[2] or found[1])) if found else (1, 0)
    if first > last:
        refuse("--years", f"'{years}'", "a year or two, such as 2018 or 2016-2018, earlier first")
    return first, last


def usual_name(question: Question) -> str:
    """Return the name of a file for a question's answer."""
    if question == Question(TYPICAL, question.latitude, question.longitude):
        return usual_weather(question.latitude, question.longitude)
    years = f"-{years_text(question.years)}" if question.years else ""
    place = place_in_name(question.latitude, question.longitude)
    return f"{question.source}{years}-{place}.csv"


def fetch(question: Question, *, fresh: bool = False) -> Fetched:
    """Ask a service for weather, or take what it answered before.

    Parameters
    ----------
    question : Question
        What is asked.
    fresh : bool
        Ask again even if an answer is kept.

    Raises
    ------
    InputError
        If no whole answer comes.
    """
    kept = None if fresh else kept_answer(question)
    if kept:
        answer, day = kept
        return Fetched(question, _rounded(answer), day, True)
    service = SERVICES[question.source]
    answer = asking.ask(lambda: service.ask(question), service.name, secrets())
    _refuse_cut(answer, question)
    answer = _rounded(answer)
    day = datetime.now(UTC).strftime("%Y-%m-%d")
    keep_answer(question, answer, day)
    return Fetched(question, answer, day, False)


def _rounded(answer: Answer) -> Answer:
    """Return an answer in as many decimals as are kept; adding nothing takes the sign off zero."""
    return answer._replace(frame=answer.frame.astype(float).round(_DECIMALS) + 0.0)


def _refuse_cut(answer: Answer, question: Question) -> None:
    """Refuse an answer that lacks hours: a table cut off looks like a short one."""
    hours = 8760
    if not SERVICES[question.source].typical and question.years:
        first, last = question.years
        hours = 24 * (pd.Timestamp(last + 1, 1, 1) - pd.Timestamp(first, 1, 1)).days
    if len(answer.frame) == hours and answer.frame.index.is_unique:
        return
    refuse(
        SERVICES[question.source].name,
        f"an answer of {len(answer.frame):,} hours",
        f"{hours:,} hours",
        remedy="Nothing was written. Ask again later, or take another --source.",
    )


def refuse_standing(path: Path, question: Question) -> None:
    """Refuse to write over a file that isn't an older answer to the same question.

    Raises
    ------
    InputError
        If there is such a file.
    """
    if path.exists() and _query(question) != canonical_head(path).get("query"):
        needed = "a new name, or an older answer to the same question"
        refuse(str(path), "a file that exists", needed, remedy="Name another file with --out.")


def write_weather(fetched: Fetched, zone: str, path: Path) -> xr.Dataset:
    """Write an answer as a file in our own plain form, once it has been read back.

    Parameters
    ----------
    fetched : Fetched
        The answer.
    zone : str
        Zone of the file's clock.
    path : Path
        The file.

    Returns
    -------
    Dataset
        Canonical weather as it is read from the file, its clock checked.

    Raises
    ------
    InputError
        If it can't be read back, or its clock doesn't agree with the sun; nothing is written.
    """
    text = _text(fetched, utc_offset(zone, "--time-zone"))
    with private_folder(tempfile.gettempdir(), "yieldkit-") as folder:
        trial = folder / path.name
        trial.write_bytes(text.encode())
        dataset = read_weather(trial, "canonical")
    write_text(path, text, record=False)
    return dataset


def _text(fetched: Fetched, offset_s: int) -> str:
    question, answer, day, _kept = fetched
    service = SERVICES[question.source]
    frame = answer.frame
    index = pd.DatetimeIndex(frame.index)
    if service.typical:
        index = _common_year(index, offset_s)
    else:
        index = index.tz_convert("UTC").tz_localize(None) + pd.Timedelta(seconds=offset_s)
    kind, label, sun_offset_s = answer.sampling
    place = degrees_text(answer.latitude, answer.longitude)
    facts = {
        "title": f"{answer.title}, {place}",
        "attribution": service.attribution,
        "query": _query(question),
        "fetched": day,
        "latitude": answer.latitude,
        "longitude": answer.longitude,
        "altitude_m": answer.altitude_m,
        "time_zone": zone_name(offset_s),
        "sampling": kind,
        **({"label": label} if kind == "mean" else {"sun_offset_s": round(sun_offset_s, 3)}),
        "wind_height_m": answer.wind_height_m,
        "typical": service.typical,
    }
    return canonical_text(frame.set_axis(index, axis="index").sort_index(), facts)


def _query(question: Question) -> dict[str, object]:
    years = years_text(question.years) if question.years else "the service's choice"
    return {
        "source": question.source,
        "latitude": question.latitude,
        "longitude": question.longitude,
        "years": years,
    }


def _common_year(index: pd.DatetimeIndex, offset_s: int) -> pd.DatetimeIndex:
    """Put months of several years into one, by the service's clock, then turn it to another's.

    What lies over the year's end comes back at its other end, so that the year stays whole.
    """
    own = index.tz_localize(None)
    parts = {"year": _COMMON_YEAR, "month": own.month, "day": own.day}
    clock = {"hour": own.hour, "minute": own.minute, "second": own.second}
    within = pd.DatetimeIndex(pd.to_datetime(pd.DataFrame(parts | clock)))
    service_s = (own[0] - index.tz_convert(None)[0]).total_seconds()
    turned = within + pd.Timedelta(seconds=offset_s - service_s)
    year = pd.Timedelta(days=365)
    over = (turned.year > _COMMON_YEAR).astype(int) - (turned.year < _COMMON_YEAR).astype(int)
    return pd.DatetimeIndex(turned - over * year)


def weather_block(name: str) -> str:
    """Return the weather block of a site file that reads such a file.

    Parameters
    ----------
    name : str
        The file, as the site file names it.
    """
    return f"weather:\n  file: {json.dumps(name, ensure_ascii=False)}\n  format: canonical"
