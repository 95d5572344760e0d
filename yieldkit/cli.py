"""The command line: parses, calls one function of a study or a check, prints. No computing."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Sequence
from importlib import import_module, metadata
from typing import Any, NoReturn

from yieldkit.words.errors import InputError, nearest

DONE, FINDINGS, BAD_INPUT, PARTLY_FAILED, INTERNAL = 0, 1, 2, 3, 70

_TARGETS = {
    "check": "yieldkit.cli_commands:check",
    "compare": "yieldkit.cli_commands:compare",
    "new": "yieldkit.cli_commands:new",
    "schema": "yieldkit.cli_commands:schema",
    "simulate": "yieldkit.cli_commands:simulate",
}


class _Parser(argparse.ArgumentParser):
    def error(self, message: str) -> NoReturn:
        """Say what is wrong in one sentence, with the nearest command, and exit with 2."""
        if "invalid choice" in message:
            word = message.split("'")[1]
            close = nearest(word, _TARGETS)
            hint = f" Did you mean '{close}'?" if close else f" Commands: {', '.join(_TARGETS)}."
            message = f"there is no command '{word}'.{hint}"
        self.exit(BAD_INPUT, f"yieldkit: {message}\n")


def parser() -> argparse.ArgumentParser:
    """Return the command line's parser; building it loads no library."""
    top = _Parser(
        prog="yieldkit",
        description="Compare and check the wirings of photovoltaic inverters with several MPP "
        "trackers, hour by hour on real weather. Every command takes the demonstration site when "
        "no site file is given.",
        epilog="Exit codes: 0 done, 1 findings against limits, 2 bad input, 3 a batch partly "
        "failed, 70 internal error.",
    )
    top.add_argument("--version", action="version", version=f"yieldkit {_version()}")
    commands = top.add_subparsers(dest="command", metavar="COMMAND")
    compare = commands.add_parser("compare", help="compare the wirings and write a report")
    _site(compare)
    compare.add_argument(
        "--out", metavar="DIR", default="yieldkit-report", help="folder for the results"
    )
    compare.add_argument("--no-report", action="store_true", help="only print the comparison")
    simulate = commands.add_parser("simulate", help="simulate one wiring hour by hour")
    _site(simulate)
    _wiring(simulate)
    simulate.add_argument("--out", metavar="DIR", help="folder for NetCDF and CSV results")
    check = commands.add_parser("check", help="check wirings against electrical limits")
    _site(check)
    _wiring(check)
    form = check.add_mutually_exclusive_group()
    form.add_argument("--json", action="store_true", help="print a JSON object")
    form.add_argument("--csv", action="store_true", help="print a CSV table")
    commands.add_parser("schema", help="print the JSON schema of a site file, for editors")
    new = commands.add_parser("new", help="write a commented site file to start from")
    new.add_argument("file", nargs="?", metavar="FILE", default="site.yaml", help="file to write")
    return top


def _site(command: argparse.ArgumentParser) -> None:
    command.add_argument("site", nargs="?", metavar="SITE", help="site file (YAML)")


def _wiring(command: argparse.ArgumentParser) -> None:
    command.add_argument("--wiring", metavar="NAME", help="name of a wiring")


def _version() -> str:
    try:
        return metadata.version("yieldkit")
    except metadata.PackageNotFoundError:
        return "not installed"


def main(arguments: Sequence[str] | None = None) -> int:
    """Run a command and return its exit code.

    Parameters
    ----------
    arguments : sequence of str, optional
        The command line without the program's name.
    """
    found = parser()
    options = found.parse_args(arguments)
    if options.command is None:
        found.print_help()
        return DONE
    try:
        return _target(options.command)(options)
    except InputError as error:
        for problem in error.problems:
            print(f"yieldkit: {_one_line(problem.sentence())}", file=sys.stderr)
        return BAD_INPUT
    except KeyboardInterrupt:
        print("yieldkit: stopped; nothing half-written was left behind.", file=sys.stderr)
        return 130
    except BrokenPipeError:
        return DONE
    except Exception as error:  # noqa: BLE001  # no traceback reaches a person at the command line
        if isinstance(error, OSError):
            print(f"yieldkit: {_one_line(str(error))}", file=sys.stderr)
            return BAD_INPUT
        print(
            f"yieldkit: an error in yieldkit itself ({type(error).__name__}: "
            f"{_one_line(str(error))}). Please report it with the command and the site file.",
            file=sys.stderr,
        )
        return INTERNAL


def _one_line(text: str) -> str:
    return " ".join("".join(sign for sign in text if sign.isprintable() or sign == " ").split())


def _target(command: str) -> Callable[[Any], int]:
    module, name = _TARGETS[command].split(":")
    return getattr(import_module(module), name)
