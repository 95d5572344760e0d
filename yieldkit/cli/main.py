"""The command line: parses, calls one function of a study or a check, prints. No computing."""

from __future__ import annotations

import argparse
import errno
import gc
import os
import signal
import sys
import traceback
from collections.abc import Callable, Sequence
from importlib import import_module
from typing import TYPE_CHECKING, NoReturn, cast

from yieldkit.base.errors import InputError, NothingPermitted, YieldkitError, nearest, refuse
from yieldkit.base.plain_text import line_for, plain_line, speak_plainly
from yieldkit.cli.heard_stops import HeardStops, Terminated

try:
    import resource
except ImportError:  # a system without such limits
    resource = None  # type: ignore[assignment]  # its user looks whether it is there

if TYPE_CHECKING:
    _Commands = argparse._SubParsersAction["_Parser"]

DONE, FINDINGS, BAD_INPUT, INTERNAL = 0, 1, 2, 70
INTERRUPTED, PIPE_CLOSED, TERMINATED = 130, 141, 143

_TARGETS = {
    "check": "yieldkit.cli.check:check",
    "compare": "yieldkit.cli.compare:compare",
    "new": "yieldkit.cli.site_files:new",
    "propose": "yieldkit.cli.propose:propose",
    "schema": "yieldkit.cli.site_files:schema",
    "simulate": "yieldkit.cli.simulate:simulate",
    "sweep": "yieldkit.cli.sweep:sweep",
    "weather": "yieldkit.cli.weather:weather",
}
_DETAILS = "YIELDKIT_TRACEBACK"
_LEAST_MB = 1400
"""Address space that the libraries and the compiler of the solvers need; measured on Linux."""
_SHORT_OF = {
    errno.ENOSPC: "The disk is full: make room, or name a folder on another one. ",
    errno.EFBIG: "A limit on the size of files stands in the way (ulimit -f shows it). ",
    errno.EDQUOT: "Your share of the disk is used up: make room, or name another folder. ",
}
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


class _Parser(argparse.ArgumentParser):
    def error(self, message: str) -> NoReturn:
        """Say what is wrong in one sentence, with the nearest command, and exit with 2."""
        if "invalid choice" in message:
            word = message.split("'")[1]
            close = nearest(word, _TARGETS)
            hint = f"Did you mean '{close}'?" if close else f"Commands: {', '.join(_TARGETS)}."
            message = f"there is no command '{word}'. {hint}"
        else:
            message = f"{message}. See {self.prog} --help."
        self.exit(BAD_INPUT, f"yieldkit: {plain_line(message)}\n")


def parser() -> argparse.ArgumentParser:
    """Return the command line's parser; building it loads no library."""
    top = _Parser(
        prog="yieldkit",
        description="Compare and check the wirings of photovoltaic inverters with several MPP "
        "trackers, hour by hour on real weather. Every command but weather takes the demonstration "
        "site when no site file is given, and the site's first wiring when none is named.",
        epilog="Exit codes: 0 done, 1 not permitted (all wirings, for compare and propose), 2 bad "
        "input or no room, 3 sweep: some runs failed, 4 check: limits of voltage, short circuit, "
        f"fuse or ampacity are NOT CHECKED, 70 internal error ({_DETAILS}=1 shows where), 130 and "
        "143 stopped. What only costs yield is no failure.",
        allow_abbrev=False,
    )
    top.add_argument(
        "--version", action=_Version, nargs=0, help="show program's version number and exit"
    )
    commands = top.add_subparsers(dest="command", metavar="COMMAND")
    compare = _command(commands, "compare", "compare the wirings and write a report")
    _site(compare)
    compare.add_argument(
        "--out",
        metavar="DIR",
        help="folder for the results (yieldkit-report; none with --no-report unless named)",
    )
    compare.add_argument("--no-report", action="store_true", help="make no report")
    _bare(compare)
    simulate = _command(commands, "simulate", "simulate one wiring hour by hour")
    _site(simulate)
    _wiring(simulate, "the first if left out")
    simulate.add_argument("--out", metavar="DIR", help="folder for NetCDF and CSV results")
    _bare(simulate)
    check = _command(commands, "check", "check wirings against electrical limits")
    _site(check)
    _wiring(check, "all if left out")
    form = check.add_mutually_exclusive_group()
    form.add_argument("--json", action="store_true", help="print a JSON object")
    form.add_argument("--csv", action="store_true", help="print a CSV table")
    form.add_argument("--all", action="store_true", help="print also what passes or doesn't apply")
    _propose(commands)
    _sweep(commands)
    _command(commands, "schema", "print the JSON schema of a site file, for editors")
    new = _command(commands, "new", "write a commented site file to start from")
    new.add_argument("file", nargs="?", metavar="FILE", default="site.yaml", help="file to write")
    new.add_argument("--at", metavar="LAT,LON", help="its place in degrees, such as -33.9,151")
    new.add_argument("--time-zone", metavar="ZONE", help=_ZONE)
    new.add_argument(
        "--two-inverters", action="store_true", help="begin with two inverters at one meter"
    )
    _weather(commands)
    return top


def _weather(commands: _Commands) -> None:
    weather = _command(commands, "weather", "fetch weather of a place from a public service")
    weather.add_argument("site", nargs="?", metavar="SITE", help="site file whose place counts")
    for name, metavar, meaning in _WEATHER:
        weather.add_argument(name, metavar=metavar, help=meaning)
    weather.add_argument(
        "--horizon", action="store_true", help="fetch the place's far horizon instead of weather"
    )
    weather.add_argument("--fresh", action="store_true", help="ask again what was answered before")


def _propose(commands: _Commands) -> None:
    propose = _command(commands, "propose", "find and rank every wiring that no limit forbids")
    _site(propose)
    for name, metavar, default, meaning in _NUMBERS:
        propose.add_argument(name, type=int, metavar=metavar, default=default, help=meaning)
    for name, metavar, meaning in _NAMES:
        propose.add_argument(name, action="append", metavar=metavar, default=[], help=meaning)
    _wiring(propose, "the one --laid is taken from, the first if left out")
    propose.add_argument(
        "--save-site", metavar="FILE", help="write a copy of the site with the best wirings added"
    )
    propose.add_argument(
        "--out",
        metavar="DIR",
        help="folder for the results (yieldkit-report; none with --no-report unless named)",
    )
    propose.add_argument("--no-report", action="store_true", help="make no report")
    _bare(propose)


def _sweep(commands: _Commands) -> None:
    sweep = _command(commands, "sweep", "run a plan of what-if runs into one table, resumably")
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


def _command(commands: _Commands, name: str, meaning: str) -> argparse.ArgumentParser:
    return commands.add_parser(name, help=meaning, description=meaning + ".", allow_abbrev=False)


def _site(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "site", nargs="?", metavar="SITE", help="site file (YAML); the demonstration if left out"
    )


def _bare(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--without-obstacles",
        action="store_true",
        help="as if nothing stood in the modules' light but far horizons",
    )


def _wiring(command: argparse.ArgumentParser, otherwise: str) -> None:
    command.add_argument("--wiring", metavar="NAME", help=f"name of a wiring; {otherwise}")


class _Version(argparse.Action):
    """Look the version up when it is asked for: that takes a third of the time of help."""

    def __call__(self, parser: argparse.ArgumentParser, *_: object) -> NoReturn:
        sys.stdout.write(f"yieldkit {_version()}\n")
        parser.exit()


def _version() -> str:
    try:
        return str(import_module("importlib.metadata").version("yieldkit"))
    except ModuleNotFoundError:
        return "not installed"


def main(arguments: Sequence[str] | None = None) -> int:
    """Run a command and return its exit code.

    Parameters
    ----------
    arguments : sequence of str, optional
        The command line without the program's name.
    """
    speak_plainly(sys.stdout)
    speak_plainly(sys.stderr)
    found = parser()
    options = found.parse_args(_with_places(sys.argv[1:] if arguments is None else arguments))
    if options.command is None:
        found.print_help()
        return DONE
    with HeardStops() as stops:
        try:
            if options.command not in ("new", "schema"):
                _refuse_too_little_memory()
            code = _target(options.command)(options)
            sys.stdout.flush()
            return code
        except (Terminated, KeyboardInterrupt):
            return _stopped(stops)
        except BrokenPipeError:
            # Whoever read our output has gone; what is left in the buffer has nowhere to go.
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            return PIPE_CLOSED
        except Exception as error:
            # A library may make an error of its own out of the stop.
            return _stopped(stops) if stops.asked else _failed(error)


def _stopped(stops: HeardStops) -> int:
    _tell("stopped; nothing half-written was left behind.")
    return TERMINATED if stops.asked == signal.SIGTERM else INTERRUPTED


def _refuse_too_little_memory() -> None:
    """Tell of a limit under which the compiler would abort the whole process without a word."""
    if resource is None:
        return
    allowed, _ = resource.getrlimit(resource.RLIMIT_AS)
    if allowed == resource.RLIM_INFINITY or allowed >= _LEAST_MB * 1e6:
        return
    refuse(
        "memory",
        f"a limit of {allowed / 1e6:.0f} MB of address space (ulimit -v shows it)",
        f"at least {_LEAST_MB} MB, even for a small site",
        remedy="Raise the limit.",
    )


def _with_places(arguments: Sequence[str]) -> list[str]:
    """Tie a place to its option: one that begins with a minus would be taken for an option."""
    tied: list[str] = []
    for word in arguments:
        if tied and tied[-1] == "--at" and word[:1] == "-" and word[1:2] in set("0123456789."):
            tied[-1] = f"--at={word}"
        else:
            tied.append(word)
    return tied


def _failed(error: Exception) -> int:
    """Tell an error in sentences and return its exit code; no traceback unless asked for."""
    if os.environ.get(_DETAILS) == "1":
        traceback.print_exception(error)
    if isinstance(error, InputError):
        for problem in error.problems:
            _tell(problem.sentence())
        return FINDINGS if isinstance(error, NothingPermitted) else BAD_INPUT
    if isinstance(error, OSError) and error.strerror:
        place = f"{error.filename}: " if error.filename else ""
        what_to_do = _SHORT_OF.get(error.errno or 0, "")
        _tell(f"{place}{error.strerror}. {what_to_do}Nothing half-written was left behind.")
        return BAD_INPUT
    if isinstance(error, MemoryError):
        asked_for = f" ({error})" if str(error) else ""
        _tell(
            f"there is not enough memory{asked_for}. Take a coarser step or fewer years of "
            "weather, or more memory. Nothing half-written was left behind."
        )
        return BAD_INPUT
    if isinstance(error, YieldkitError):
        _tell(str(error))
        return INTERNAL
    _tell(
        f"an error in yieldkit itself ({type(error).__name__}: {error}). {_DETAILS}=1 before the "
        "command shows where; please report it with the command and the site file."
    )
    return INTERNAL


def _tell(sentence: str) -> None:
    print(line_for(sys.stderr, f"yieldkit: {sentence}"), file=sys.stderr)


def _target(command: str) -> Callable[[argparse.Namespace], int]:
    module, name = _TARGETS[command].split(":")
    # What is loaded stays, so that nobody need look for waste among it, now or later.
    gc.disable()
    try:
        room = import_module(module)
    finally:
        gc.freeze()
        gc.enable()
    return cast(Callable[[argparse.Namespace], int], getattr(room, name))
