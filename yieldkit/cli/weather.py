"""The command that fetches weather; nothing else asks the network for anything."""

from __future__ import annotations

import json
import os
from argparse import Namespace
from pathlib import Path

from yieldkit.base.coordinates import degrees_text, latitude_longitude
from yieldkit.base.errors import refuse
from yieldkit.base.files import write_text
from yieldkit.base.readable_files import other_than_file
from yieldkit.cli.speech import caution, note, say
from yieldkit.config.site.starter import shown_zone
from yieldkit.config.site.weather_block import OwnPlace, own_place, with_weather
from yieldkit.weather.services.fetched import (
    Fetched,
    asked_question,
    fetch,
    refuse_standing,
    usual_name,
    weather_block,
    write_weather,
)
from yieldkit.weather.services.horizon import fetch_horizon, horizon_name, write_horizon
from yieldkit.weather.services.services import SERVICES

DONE = 0


def weather(options: Namespace) -> int:
    """Fetch weather of a place into a file, and name it in a site file if asked to."""
    site = _site_file(options)
    place = _place(options, site)
    if options.horizon:
        return _horizon(options, site, place)
    question = asked_question(options.source, options.years, place.latitude, place.longitude)
    stated = "--time-zone" if options.time_zone else f"{site}, site.time_zone"
    zone, guessed = shown_zone(options.time_zone or place.time_zone, place.longitude, stated)
    beside = site.parent if site else Path()
    path = Path(options.out) if options.out else beside / usual_name(question)
    if kind := other_than_file(path):
        refuse(str(path), kind, "the name of a file", remedy="Name a file with --out.")
    refuse_standing(path, question)
    where = degrees_text(place.latitude, place.longitude)
    note(f"Weather of {where} from: {SERVICES[question.source].name}.")
    fetched = fetch(question, fresh=options.fresh)
    if fetched.kept:
        note(f"Taken from the cache, as it was told on {fetched.day}; --fresh asks again.")
    if guessed:
        note(f"Time zone {zone}: a guess from the longitude; --time-zone states another.")
    quality = json.loads(write_weather(fetched, zone, path).attrs["quality"])
    say(f"Wrote {path}: {_facts(fetched)}.")
    say(f"Its light sums up to {quality['ghi_kwh_m2']:,.0f} kWh/m2; {quality['clock_text']}.")
    caution(quality["cautions"])
    _name_in(Path(options.into) if options.into else None, path, fetched)
    return DONE


def _horizon(options: Namespace, site: Path | None, place: OwnPlace) -> int:
    """Fetch the far horizon of a place into a file, and say how a site file names it."""
    beside = site.parent if site else Path()
    name = horizon_name(place.latitude, place.longitude)
    path = Path(options.out) if options.out else beside / name
    if kind := other_than_file(path):
        refuse(str(path), kind, "the name of a file", remedy="Name a file with --out.")
    if path.exists():
        refuse(str(path), "a file that is there", "a new file", remedy="Name another with --out.")
    note(f"Far horizon of {degrees_text(place.latitude, place.longitude)}, asked of a service.")
    found = fetch_horizon(place.latitude, place.longitude)
    write_horizon(found, path)
    highest = found.elevation.idxmax()
    say(
        f"Wrote {path}: {found.elevation.size} points, the highest {found.elevation.max():g} deg "
        f"above horizontal at {highest:g} deg from north through east."
    )
    say("To use it, add this under site: in your site file; its path counts from the file's folder")
    say("and planes that state their own horizon keep it:")
    say(f"  horizon_file: {_seen_from(path, beside)}")
    return DONE


def _seen_from(path: Path, folder: Path) -> str:
    """Return a file's path as seen from a folder."""
    try:
        return Path(os.path.relpath(path.resolve(), folder.resolve())).as_posix()
    except ValueError:
        # On another drive no relative path leads there.
        return str(path.resolve())


def _site_file(options: Namespace) -> Path | None:
    """Return the site file whose place counts."""
    if (
        options.site
        and options.into
        and Path(options.site).resolve() != Path(options.into).resolve()
    ):
        refuse(
            "--into",
            f"'{options.into}' beside the site '{options.site}'",
            "weather written into the site it is of",
            remedy="Leave one of the two out.",
        )
    named = options.into or options.site
    if named and options.at:
        refuse(
            "--at",
            f"'{options.at}' beside the site '{named}'",
            "one place",
            remedy="The site's own place counts: change its latitude and longitude, or leave one "
            "of the two out.",
        )
    return Path(named) if named else None


def _place(options: Namespace, site: Path | None) -> OwnPlace:
    if site is None:
        if not options.at:
            needed = "a site file, --at LAT,LON or --into SITE"
            refuse("yieldkit weather", "no place", needed)
        return OwnPlace(*latitude_longitude(options.at, "--at"), None)
    return own_place(_text(site), str(site))


def _text(site: Path) -> str:
    """Return a site file's text with its line ends as they are."""
    if not site.is_file():
        got = other_than_file(site) or "no file"
        refuse(str(site), got, "a site file", remedy="Make one: yieldkit new FILE --at LAT,LON")
    try:
        return site.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError:
        refuse(str(site), "signs that aren't UTF-8", "a site file in UTF-8")


def _facts(fetched: Fetched) -> str:
    answer = fetched.answer
    place = degrees_text(answer.latitude, answer.longitude)
    kind, label, offset_s = answer.sampling
    after = f"snapshots {offset_s / 60.0:.1f} min after their labels" if offset_s else "snapshots"
    averaged = f"means, label at the {label}" if kind == "mean" else after
    return f"{answer.title}, {place}, {answer.altitude_m:g} m; {averaged}"


def _name_in(into: Path | None, path: Path, fetched: Fetched) -> None:
    """Name the file in the site file, or print the block to paste."""
    folder = into.parent if into else Path()
    seen = _seen_from(path, folder)
    if into is None:
        say("To use it, put this in place of the weather block of your site file; its path counts")
        say("from the site file's folder:")
        say(weather_block(seen))
        return
    say(weather_block(seen))
    text, remarks = with_weather(_text(into), seen, fetched.answer.altitude_m, folder, str(into))
    write_text(into, text, record=False)
    say(f"{into} names it now, in this block; the rest of it is as it was.")
    for sentence in remarks:
        say(sentence)
