"""The commands about site files: new and schema."""

from __future__ import annotations

import json
import shlex
from argparse import Namespace
from pathlib import Path

from yieldkit.base.coordinates import degrees_text, latitude_longitude
from yieldkit.base.errors import refuse
from yieldkit.base.files import write_text
from yieldkit.cli.speech import say
from yieldkit.config.site.files import new_site_text, two_inverters_text
from yieldkit.config.site.files import schema as site_schema
from yieldkit.config.site.starter import shown_zone, site_text_at, usual_weather

DONE = 0


def schema(options: Namespace) -> int:
    """Print the JSON schema of a site file."""
    say(json.dumps(site_schema(), indent=2))
    return DONE


def new(options: Namespace) -> int:
    """Write a commented site file; an existing file is not touched."""
    path = Path(options.file)
    if path.exists():
        refuse(str(path), "a file that exists", "a new name", remedy="Name another file.")
    if options.at is None and options.time_zone is not None:
        refuse("--time-zone", "a time zone without a place", "--at LAT,LON beside it")
    if options.at is not None and options.two_inverters:
        refuse("--two-inverters", "a place beside it (--at)", "one of the two")
    if options.at is not None:
        return _new_at(options, path)
    text = two_inverters_text() if options.two_inverters else new_site_text()
    write_text(path, text, record=False)
    say(f"Wrote {path}. Edit it, then run: yieldkit compare {path}")
    say("Its weather is of 45 N 8 E: for any other place begin with --at LAT,LON.")
    return DONE


def _new_at(options: Namespace, path: Path) -> int:
    """Write a site file of a place; nothing is fetched."""
    latitude, longitude = latitude_longitude(options.at, "--at")
    zone, guessed = shown_zone(options.time_zone, longitude)
    weather = usual_weather(latitude, longitude)
    text = site_text_at(latitude, longitude, options.time_zone, weather, str(path))
    write_text(path, text, record=False)
    say(f"Wrote {path}, a site at {degrees_text(latitude, longitude)} in time zone {zone}.")
    if guessed:
        say("The zone is a guess from the longitude: correct it there, or state --time-zone.")
    say("Its height is left at 0 m, and its weather is not there yet. To fetch both:")
    say(f"yieldkit weather --into {shlex.quote(str(path))}")
    return DONE
