"""What is to be asked or told of a weather file, beside the questions about its site file."""

from __future__ import annotations

from pathlib import Path

from pydantic import ValidationError

from yieldkit.base.errors import InputError, Problem
from yieldkit.config.models.weather_source import WeatherSource
from yieldkit.config.reading.parts import part
from yieldkit.config.reading.yaml import read_yaml
from yieldkit.config.site.files import load_site
from yieldkit.config.site.site import Site
from yieldkit.study.simulation.weather import (
    site_weather,
    weather_cautions,
    weather_paths,
    weather_source,
)
from yieldkit.weather.readers.tables import table_questions

_TABLES = ("csv", "parquet")


def asked_site(path: str | Path | None) -> Site:
    """Read a site file; where it is not sound, ask what its weather file leaves unclear as well.

    Parameters
    ----------
    path : str or Path or None
        The file; None for the demonstration site.

    Raises
    ------
    InputError
        As `load_site`, with what a look into the weather file shows to be unclear.
    """
    try:
        return load_site(path)
    except InputError as error:
        more = [] if path is None else _weather_questions(Path(path))
        kept = [each for each in error.problems if not _asked_in_more_words(each, more)]
        raise InputError((*kept, *more)) from None


def _asked_in_more_words(asked: Problem, more: list[Problem]) -> bool:
    return any(each.needed.startswith(f"{asked.needed}, ") for each in more)


def _weather_questions(path: Path) -> list[Problem]:
    """Return what a table leaves unclear, as far as the weather block says how to read it."""
    try:
        weather = part(read_yaml(path).values, "weather")
        said = WeatherSource.model_validate(weather)
        first = weather_paths(said, str(path.resolve().parent))[0]
    except (InputError, ValidationError):
        return []
    if said.format not in _TABLES:
        return []
    file = Path(first)
    if not file.is_file():
        return []
    try:
        return table_questions(file, weather_source(said, 0.0, 0.0, 0.0))
    except InputError as error:
        return list(error.problems)
    except Exception:  # what the parser can't read is told of when it is asked to
        return []


def weather_remarks(site: Site) -> tuple[str, ...]:
    """Return what must be known of a site's weather file, by who needs no weather just now.

    Parameters
    ----------
    site : Site
        The site.
    """
    try:
        return weather_cautions(site_weather(site))
    except InputError as error:
        first = error.problems[0].sentence()
        others = f" (and {len(error.problems) - 1} more)" if len(error.problems) > 1 else ""
        return (f"No yield can be worked out with this weather file yet: {first}{others}",)
