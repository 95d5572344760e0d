"""The folder a command fills, and how it speaks."""

from __future__ import annotations

import contextlib
import shutil
import sys
import tempfile
from argparse import Namespace
from collections.abc import Iterable, Iterator
from importlib import import_module
from typing import TYPE_CHECKING, NoReturn, Self

from yieldkit.base.plain_text import line_for, plain_text
from yieldkit.base.private_folders import sweep_private
from yieldkit.base.staging import Stage, staged

if TYPE_CHECKING:
    from tqdm import tqdm

_BARS = "tqdm"
"""The library of progress bars, loaded for the first bar that somebody looks at."""
USUAL_FOLDER = "yieldkit-report"


@contextlib.contextmanager
def results_stage(
    options: Namespace, what: str, pages: tuple[str, ...] = ()
) -> Iterator[Stage | None]:
    """Give the stage of a command's results, or None where nothing is to be kept.

    It is made before the work, so that a folder that can't be written to costs nobody any time.
    """
    sweep_private(tempfile.gettempdir(), "yieldkit-")
    usual = None if getattr(options, "no_report", True) else USUAL_FOLDER
    folder = options.out or usual
    if folder is None:
        yield None
        return
    with staged(folder, what, pages) as stage:
        yield stage


def say(text: str) -> None:
    """Print a command's answer; nothing in it steers the terminal."""
    print(plain_text(text))


def caution(sentences: Iterable[str]) -> None:
    """Print what a person must know before believing the answer, a sentence a line."""
    for sentence in sentences:
        note(f"Caution: {sentence}")


def terminal_width() -> int:
    """Return how many columns an answer may take: the terminal's, 80 where there is none."""
    return min(max(shutil.get_terminal_size((80, 24)).columns, 40), 100)


def note(text: str) -> None:
    """Print a remark beside the answer, above a progress bar where one is shown."""
    line = line_for(sys.stderr, text)
    if _BARS in sys.modules:
        sys.modules[_BARS].tqdm.write(line, file=sys.stderr)
    else:
        print(line, file=sys.stderr)


class Bars:
    """One progress bar after the other, with counts; quiet when nobody looks.

    Where nobody knows how many there will be, 0, a bar counts.
    """

    def __enter__(self) -> Self:
        self._bar: tqdm[NoReturn] | None = None
        self._word = ""
        return self

    def __exit__(self, *_: object) -> None:
        if self._bar is not None:
            self._bar.close()

    @property
    def quiet(self) -> bool:
        """Whether nobody looks."""
        return not sys.stderr.isatty()

    def show(self, word: str, done: int, every: int) -> bool:
        """Show how far a piece of work is; true if it shall stop."""
        if self.quiet:
            return False
        if word != self._word:
            if self._bar is not None:
                self._bar.close()
            self._word = word
            counting = None if every else "{desc}: {n_fmt} [{elapsed}]"
            self._bar = import_module(_BARS).tqdm(
                total=every or None, desc=word, leave=False, bar_format=counting
            )
        if self._bar is not None:
            self._bar.update(done - self._bar.n)
        return False
