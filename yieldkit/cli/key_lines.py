"""Refusals that come after a site file was read: the key that they name gets its line."""

from __future__ import annotations

import re
from argparse import Namespace
from collections.abc import Callable
from dataclasses import replace
from functools import wraps
from pathlib import Path

from yieldkit.base.errors import InputError, Problem
from yieldkit.config.reading.content import Content, Location
from yieldkit.config.reading.yaml import read_yaml

_KEY = re.compile(r"[a-z_]+(\.[a-z0-9_]+)+")


def telling_lines(command: Callable[[Namespace], int]) -> Callable[[Namespace], int]:
    """Have a command's refusals name the line of their key in the site file.

    Parameters
    ----------
    command : callable
        A command that takes a site file.

    Raises
    ------
    InputError
        As the command, its problems with lines where they name a key of the site file.
    """

    @wraps(command)
    def inner(options: Namespace) -> int:
        try:
            return command(options)
        except InputError as error:
            if type(error) is not InputError or options.site is None:
                raise
            located = _located(error.problems, Path(options.site))
            if located == error.problems:
                raise
            raise InputError(located) from error

    return inner


def _located(problems: tuple[Problem, ...], site: Path) -> tuple[Problem, ...]:
    """Return problems with the line of the key they name; the rest as they are."""
    if not any(_KEY.fullmatch(each.where) for each in problems):
        return problems
    content = read_yaml(site)
    return tuple(_with_line(each, content) for each in problems)


def _with_line(problem: Problem, content: Content) -> Problem:
    if not _KEY.fullmatch(problem.where):
        return problem
    words = problem.where.split(".")
    location: Location = tuple(int(word) if word.isdigit() else word for word in words)
    if location[:1] not in content.lines:
        return problem
    return replace(problem, where=content.where(location))
