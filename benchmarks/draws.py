"""Sixty-four draws of everything unknown, for the four wirings of the demonstration site."""

import yieldkit
from benchmarks.timing import best_of
from yieldkit.study.simulation.prepare import prepare
from yieldkit.study.simulation.weather import site_weather
from yieldkit.study.uncertainty.draws import draw_energies

DRAWS = 64


def run() -> dict[str, float]:
    """Return the time of the draws that `propose` makes, once warm, one run after another."""
    site = yieldkit.load_site()
    prepared = prepare(site, site_weather(site))
    draw_energies(prepared, site.wirings, 2)
    return {"draws_64_demo_s": best_of(lambda: draw_energies(prepared, site.wirings, DRAWS), 1)}
