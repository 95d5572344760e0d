"""A likely and a cautious year of the demonstration site from 512 draws, against whole runs.

And how long a person waits for an offer: the command from the site file to page and paper.
"""

import contextlib
import io
import tempfile
from pathlib import Path

import numpy as np

import yieldkit
from benchmarks.timing import best_of
from yieldkit.base.progress import silent
from yieldkit.cli.main import main
from yieldkit.config.site.files import site_text
from yieldkit.study.estimate.drawing import each_run
from yieldkit.study.estimate.estimate import drawing_of
from yieldkit.study.estimate.plant import plant_from_runs
from yieldkit.study.estimate.runs import Subject
from yieldkit.study.simulation.prepare import prepare
from yieldkit.study.simulation.weather import site_weather

DRAWS = 512
OFFER = """\
offer:
  language: de
  currency: EUR
  outlay: 18000
  purchase: {price_per_kwh: 0.32}
  feed_in: {price_per_kwh: 0.08}
  discount: {rate_percent: 3, kind: nominal}
"""


def run() -> dict[str, float]:
    """Return the time of an estimate beyond its weather, and how much whole draws take longer.

    The whole draws are those of a new plant; so is what they are compared with.
    """
    site = yieldkit.load_site()
    weather = site_weather(site)
    wiring = site.wirings[0].name
    yieldkit.estimate(site, wiring, weather, draws=64)
    drawing = drawing_of(Subject(prepare(site, weather), site.wirings[0]), DRAWS, 1)

    def fast() -> None:
        plant = plant_from_runs(drawing, np.ones(12), np.zeros(12), (), silent)
        plant.one_year(drawing.numbers, drawing.years, 1)

    whole = best_of(lambda: each_run(drawing.run, range(DRAWS), silent, "whole runs"), 1)
    return {
        "estimate_512_draws_s": best_of(
            lambda: yieldkit.estimate(site, wiring, weather, draws=DRAWS), 2
        ),
        "estimate_vs_full_draws_speedup": whole / best_of(fast, 2),
        "estimate_report_s": best_of(offered, 1),
    }


def offered() -> None:
    """Make the pages for a customer of the demonstration with prices, on paper as well.

    Raises
    ------
    RuntimeError
        If the command fails or leaves no paper.
    """
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "site.yaml").write_text(site_text() + OFFER, encoding="utf-8")
        words = ["estimate", str(folder / "site.yaml"), "--customer", "--out", name]
        told = io.StringIO()
        with contextlib.redirect_stdout(told), contextlib.redirect_stderr(told):
            code = main(words)
        if code or not (folder / "offer.pdf").is_file():
            raise RuntimeError(told.getvalue())
