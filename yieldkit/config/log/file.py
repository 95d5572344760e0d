"""Descriptions of logs: YAML in, a frozen description out, or every problem at once."""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

from pydantic import ValidationError

from yieldkit.base.errors import InputError, Problem
from yieldkit.base.patterns import is_pattern, matching
from yieldkit.base.readable_files import other_than_file
from yieldkit.config.models.plant_log import LogDescription
from yieldkit.config.reading.content import Content, Location
from yieldkit.config.reading.messages import problems_from
from yieldkit.config.reading.schema_walk import Schema
from yieldkit.config.reading.yaml import LOG_FILE, read_yaml

_MOST_PROBLEMS = 100


class DescriptionFile(NamedTuple):
    """A description that was read.

    Parameters
    ----------
    said : LogDescription
        The description.
    content : Content
        Its lines.
    folder : Path
        Where it stands, from which its files count.
    """

    said: LogDescription
    content: Content
    folder: Path

    def where(self, at: Location) -> str:
        """Return file, line and key of a place of the description."""
        return self.content.where(at)

    def files(self, names: tuple[str, ...], at: Location) -> list[Path]:
        """Return the files that names and patterns mean, in their order.

        Parameters
        ----------
        names : tuple of str
            As the description has them.
        at : tuple
            Where they stand.

        Raises
        ------
        InputError
            For what isn't there, or is no file.
        """
        found: list[Path] = []
        problems = []
        for number, name in enumerate(names):
            own = matching(name, self.folder) if is_pattern(name, self.folder) else []
            path = self.folder / name
            if not own and path.is_file():
                own = [path]
            if not own:
                spot = (*at, number) if (*at, number) in self.content.lines else at
                problems.append(self._not_there(name, path, spot))
            found += own
        if problems:
            raise InputError(problems)
        return list(dict.fromkeys(found))

    def _not_there(self, name: str, path: Path, at: Location) -> Problem:
        kind = other_than_file(path)
        got = f"'{name}', which is {kind}" if kind else f"'{name}', which is not there"
        if is_pattern(name, self.folder):
            got = f"the pattern '{name}', which no file matches"
        return Problem(
            self.where(at),
            got,
            "a table that is there",
            remedy=f"It counts from the description's folder, {self.folder}.",
        )


def load_description(path: str | Path) -> DescriptionFile:
    """Read the description of a log.

    Parameters
    ----------
    path : str or Path
        The YAML file.

    Raises
    ------
    InputError
        With every problem found: syntax, then shapes.
    """
    file = Path(path)
    content = read_yaml(file, LOG_FILE)
    try:
        said = LogDescription.model_validate(content.values)
    except ValidationError as error:
        found = problems_from(error, content, Schema(LogDescription, LOG_FILE.start))
        raise InputError(list(dict.fromkeys(found))[:_MOST_PROBLEMS]) from None
    return DescriptionFile(said, content, file.resolve().parent)
