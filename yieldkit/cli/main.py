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
from yieldkit.cli.options import OPTIONS

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
    "estimate": "yieldkit.cli.estimate:estimate",
    "handover": "yieldkit.cli.handover:handover",
    "new": "yieldkit.cli.site_files:new",
    "propose": "yieldkit.cli.propose:propose",
    "review": "yieldkit.cli.review:review",
    "schema": "yieldkit.cli.site_files:schema",
    "simulate": "yieldkit.cli.simulate:simulate",
    "sweep": "yieldkit.cli.sweep:sweep",
    "verify": "yieldkit.cli.verify:verify",
    "weather": "yieldkit.cli.weather:weather",
}
_DETAILS = "YIELDKIT_TRACEBACK"
_LEAST_MB = 1400
"""Address space that the libraries and the compiler of the solvers need; measured on Linux."""
_NEW_OBJECTS = 50_000
"""So many before somebody looks for waste: by 700 that takes a tenth of a first comparison."""
_SHORT_OF = {
    errno.ENOSPC: "The disk is full: make room, or name a folder on another one. ",
    errno.EFBIG: "A limit on the size of files stands in the way (ulimit -f shows it). ",
    errno.EDQUOT: "Your share of the disk is used up: make room, or name another folder. ",
}


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
        "site when no site file is given; where no wiring is named simulate and handover take the "
        "site's first and estimate its best.",
        epilog="Exit codes: 0 done, 1 not permitted (all wirings, for compare, propose and "
        "estimate; the chosen one, for handover; verify: something reads otherwise; review: "
        "something to look at), 2 bad input or no room, 3 sweep: some runs failed, 4 check: limits "
        "of voltage, short circuit, fuse or ampacity are NOT CHECKED, verify: a string NOT "
        "CHECKED, review: an input NOT CHECKED, 70 internal error "
        f"({_DETAILS}=1 shows where), 130 and 143 stopped. What only costs yield is no failure.",
        allow_abbrev=False,
    )
    top.add_argument(
        "--version", action=_Version, nargs=0, help="show program's version number and exit"
    )
    commands = top.add_subparsers(dest="command", metavar="COMMAND")
    for name, (meaning, fill) in OPTIONS.items():
        fill(_command(commands, name, meaning))
    return top


def _command(commands: _Commands, name: str, meaning: str) -> argparse.ArgumentParser:
    return commands.add_parser(name, help=meaning, description=meaning + ".", allow_abbrev=False)


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
    gc.set_threshold(_NEW_OBJECTS)
    return cast(Callable[[argparse.Namespace], int], getattr(room, name))
