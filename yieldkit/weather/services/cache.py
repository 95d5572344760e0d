"""What services have answered, kept so that the same question isn't asked twice."""

from __future__ import annotations

import contextlib
import hashlib
import io
import json
import os
from pathlib import Path

import pandas as pd
import pvlib

from yieldkit.base.files import write_text
from yieldkit.weather.readers.canonical import Sampling
from yieldkit.weather.services.services import Answer, Question

_FORM = 1


def cache_folder() -> Path:
    """Return the folder of kept answers: in YIELDKIT_CACHE if set, else the user's cache."""
    chosen = os.environ.get("YIELDKIT_CACHE")
    usual = Path(os.environ.get("XDG_CACHE_HOME") or "~/.cache").expanduser() / "yieldkit"
    return (Path(chosen) if chosen else usual) / "weather"


def _place(question: Question) -> Path:
    asked = json.dumps([_FORM, pvlib.__version__, *question])
    return cache_folder() / f"{hashlib.sha256(asked.encode()).hexdigest()[:32]}.csv"


def kept_answer(question: Question) -> tuple[Answer, str] | None:
    """Return a kept answer and the day it was given, or None; a damaged one counts as none.

    Parameters
    ----------
    question : Question
        What is asked.
    """
    try:
        digest, _, rest = _place(question).read_text(encoding="utf-8").partition("\n")
    except (OSError, UnicodeError):
        return None
    if hashlib.sha256(rest.encode()).hexdigest() != digest:
        return None
    head, _, table = rest.partition("\n")
    facts = json.loads(head)
    frame = pd.read_csv(io.StringIO(table), index_col="time", parse_dates=["time"])
    zone = pd.Timestamp(facts["clock"]).tz
    latitude, longitude, altitude_m = facts["place"]
    answer = Answer(
        frame.set_axis(pd.DatetimeIndex(frame.index).tz_localize(zone), axis="index"),
        latitude,
        longitude,
        altitude_m,
        Sampling(*facts["sampling"]),
        facts["wind_height_m"],
        facts["title"],
    )
    return answer, facts["fetched"]


def keep_answer(question: Question, answer: Answer, fetched: str) -> None:
    """Keep an answer, whole or not at all; where nothing can be written it isn't kept.

    Parameters
    ----------
    question : Question
        What was asked.
    answer : Answer
        What was told.
    fetched : str
        The day, such as "2026-11-26".
    """
    frame = answer.frame
    facts = {
        "place": [answer.latitude, answer.longitude, answer.altitude_m],
        "sampling": list(answer.sampling),
        "wind_height_m": answer.wind_height_m,
        "title": answer.title,
        "fetched": fetched,
        "clock": frame.index[0].isoformat(),
    }
    naive = frame.set_axis(pd.DatetimeIndex(frame.index).tz_localize(None), axis="index")
    rest = f"{json.dumps(facts)}\n{naive.to_csv(index_label='time', lineterminator=chr(10))}"
    digest = hashlib.sha256(rest.encode()).hexdigest()
    with contextlib.suppress(OSError):
        write_text(_place(question), f"{digest}\n{rest}", record=False)
