"""What each command takes: its options, their meaning and what is usual."""

from __future__ import annotations

from argparse import ArgumentParser
from collections.abc import Callable

_NUMBERS = (
    ("--leave-out", "N", 0, "modules that may stay unwired (0)"),
    ("--strings", "N", None, "most strings on an input (its connectors)"),
    ("--shortest", "N", None, "shortest string in modules"),
    ("--longest", "N", None, "longest string in modules"),
    ("--top", "N", 10, "how many to show (10)"),
    ("--draws", "N", 64, "draws for whether a difference is real, 0 for none (64)"),
    ("--most", "N", 200_000, "bound on the number of wirings (200000)"),
    ("--choose", "N", None, "choose up to N of the site's kinds of inverters, each choice's best"),
    ("--every-days", "N", 1, "rank on one day in so many, with its error measured (1: all)"),
)
_NAMES = (
    ("--cross", "PLANE,PLANE", "planes that a string may cross; may be repeated"),
    ("--keep-free", "INPUT", "an input that stays idle; may be repeated"),
    ("--laid", "INPUT", "an input whose strings are laid already; may be repeated"),
)
_SWEEP = (
    ("--out", "DIR", "folder for the results; what it holds already isn't computed again"),
    ("--scheduler", "ADDRESS", "a scheduler that runs already, such as tcp://127.0.0.1:8786"),
    ("--again", "failed", "compute runs that failed before once more"),
    ("--only", "RUN", "compute this run alone: its number, or its name or how it begins"),
    ("--explain", "RUN", "say what a run is and why it is, or isn't, computed; compute nothing"),
)
_ZONE = "standard time, such as UTC+10:00; by default a guess from the longitude"
_WEATHER = (
    ("--at", "LAT,LON", "place in degrees, such as -33.9,151, in place of a site file"),
    ("--years", "FROM-TO", "these years hour by hour, instead of a typical year"),
    (
        "--source",
        "NAME",
        "jrc-typical-year (usual), jrc-hourly (usual with --years), nasa-power, "
        "nsrdb-typical-year or nsrdb-hourly (with a key, YIELDKIT_NSRDB_KEY)",
    ),
    ("--out", "FILE", "weather file to write; named after source and place if left out"),
    ("--into", "SITE", "site file whose weather block shall name it; its comments stay"),
    ("--time-zone", "ZONE", f"the file's clock, else the site's; {_ZONE}"),
)
_OUT = "folder for the results (yieldkit-report; none with --no-report unless named)"


def _compare(compare: ArgumentParser) -> None:
    _site(compare)
    _with_report(compare)


def _estimate(estimate: ArgumentParser) -> None:
    _site(estimate)
    _wiring(estimate, "the one that yields most of those with nothing forbidden, if left out")
    estimate.add_argument(
        "--draws",
        type=int,
        metavar="N",
        default=512,
        help="draws of all that nobody knows, a power of two (512)",
    )
    estimate.add_argument(
        "--seed", type=int, metavar="N", default=1, help="of the draws: the same gives the same (1)"
    )
    estimate.add_argument(
        "--customer",
        action="store_true",
        help="make the pages for a customer instead of the report: offer.html and offer.pdf",
    )
    _with_report(estimate)


def _handover(handover: ArgumentParser) -> None:
    _site(handover)
    _wiring(handover, "the first if left out")
    handover.add_argument(
        "--on", metavar="DAY", help="list a cloudless sky's hours of a day, such as 2026-06-21"
    )
    handover.add_argument(
        "--air", metavar="DEGC", type=float, default=20.0, help="air temperature on that day (20)"
    )
    handover.add_argument("--out", metavar="DIR", help=_OUT)
    handover.add_argument("--no-report", action="store_true", help="make no page")


def _verify(verify: ArgumentParser) -> None:
    verify.add_argument(
        "readings",
        metavar="FILE",
        help="the handover sheet's table, filled in; or the description of a log (YAML)",
    )
    verify.add_argument(
        "logs", metavar="LOG", nargs="*", help="descriptions of logs, judged together with it"
    )
    verify.add_argument("--site", metavar="SITE", help="site file (the demonstration if left out)")
    _wiring(verify, "the one that the file names, if left out")
    verify.add_argument("--json", action="store_true", help="print JSON")


def _review(review: ArgumentParser) -> None:
    review.add_argument(
        "log", metavar="LOG", help="the log's description (YAML): its files, clock and columns"
    )
    _site(review)
    _wiring(review, "the first if left out")
    review.add_argument("--json", action="store_true", help="print JSON")
    review.add_argument(
        "--describe",
        action="store_true",
        help="write a description of a table (CSV) to fill in, named after it, and review nothing",
    )
    _with_report(review)


def _simulate(simulate: ArgumentParser) -> None:
    _site(simulate)
    _wiring(simulate, "the first if left out")
    simulate.add_argument("--out", metavar="DIR", help="folder for NetCDF and CSV results")
    _bare(simulate)


def _check(check: ArgumentParser) -> None:
    _site(check)
    _wiring(check, "all if left out")
    form = check.add_mutually_exclusive_group()
    form.add_argument("--json", action="store_true", help="print a JSON object")
    form.add_argument("--csv", action="store_true", help="print a CSV table")
    form.add_argument("--all", action="store_true", help="print also what passes or doesn't apply")


def _propose(propose: ArgumentParser) -> None:
    _site(propose)
    for name, metavar, default, meaning in _NUMBERS:
        propose.add_argument(name, type=int, metavar=metavar, default=default, help=meaning)
    for name, metavar, meaning in _NAMES:
        propose.add_argument(name, action="append", metavar=metavar, default=[], help=meaning)
    _wiring(propose, "the one --laid is taken from, the first if left out")
    propose.add_argument(
        "--save-site", metavar="FILE", help="write a copy of the site with the best wirings added"
    )
    _with_report(propose)


def _sweep(sweep: ArgumentParser) -> None:
    sweep.add_argument(
        "plan", nargs="?", metavar="PLAN", help="plan (YAML); the example's if left out"
    )
    for name, metavar, meaning in _SWEEP:
        sweep.add_argument(name, metavar=metavar, help=meaning)
    sweep.add_argument("--workers", type=int, metavar="N", help="processes on this computer")
    sweep.add_argument("--dry-run", action="store_true", help="check and count; compute nothing")
    sweep.add_argument("--yes", action="store_true", help="go on with more than 100,000 runs")
    sweep.add_argument("--report", action="store_true", help="make a page of the results")
    sweep.add_argument(
        "--example",
        nargs="?",
        const="plan.yaml",
        metavar="FILE",
        help="write a commented plan to start from (plan.yaml)",
    )


def _schema(_: ArgumentParser) -> None:
    """Take nothing."""


def _new(new: ArgumentParser) -> None:
    new.add_argument("file", nargs="?", metavar="FILE", default="site.yaml", help="file to write")
    new.add_argument("--at", metavar="LAT,LON", help="its place in degrees, such as -33.9,151")
    new.add_argument("--time-zone", metavar="ZONE", help=_ZONE)
    new.add_argument(
        "--two-inverters", action="store_true", help="begin with two inverters at one meter"
    )


def _weather(weather: ArgumentParser) -> None:
    weather.add_argument("site", nargs="?", metavar="SITE", help="site file whose place counts")
    for name, metavar, meaning in _WEATHER:
        weather.add_argument(name, metavar=metavar, help=meaning)
    weather.add_argument(
        "--horizon", action="store_true", help="fetch the place's far horizon instead of weather"
    )
    weather.add_argument("--fresh", action="store_true", help="ask again what was answered before")


def _site(command: ArgumentParser) -> None:
    command.add_argument(
        "site", nargs="?", metavar="SITE", help="site file (YAML); the demonstration if left out"
    )


def _with_report(command: ArgumentParser) -> None:
    command.add_argument("--out", metavar="DIR", help=_OUT)
    command.add_argument("--no-report", action="store_true", help="make no report")
    _bare(command)


def _bare(command: ArgumentParser) -> None:
    command.add_argument(
        "--without-obstacles",
        action="store_true",
        help="as if nothing stood in the modules' light but far horizons",
    )


def _wiring(command: ArgumentParser, otherwise: str) -> None:
    command.add_argument("--wiring", metavar="NAME", help=f"name of a wiring; {otherwise}")


OPTIONS: dict[str, tuple[str, Callable[[ArgumentParser], None]]] = {
    "compare": ("compare the wirings and write a report", _compare),
    "estimate": ("say what a wiring yields in a likely and in a cautious year", _estimate),
    "handover": ("make the sheet to build, test and hand over one wiring", _handover),
    "simulate": ("simulate one wiring hour by hour", _simulate),
    "check": ("check wirings against electrical limits", _check),
    "propose": ("find and rank every wiring that no limit forbids", _propose),
    "sweep": ("run a plan of what-if runs into one table, resumably", _sweep),
    "verify": ("say whether readings of a sheet, or logs, fit the drawn wiring", _verify),
    "review": ("say from a year's log what a plant did, and what to look at first", _review),
    "schema": ("print the JSON schema of a site file, for editors", _schema),
    "new": ("write a commented site file to start from", _new),
    "weather": ("fetch weather of a place from a public service", _weather),
}
"""Each command in the order of the help: what it does, and what gives it its options."""
