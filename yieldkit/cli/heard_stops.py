"""Signals that ask a command to stop, heard wherever it is just then.

A signal's handler raises in the middle of whatever runs. Python drops what is raised in a
finalizer or in a callback of a library, and the command would run on as if nobody had asked.
"""

from __future__ import annotations

import signal
import sys
import threading
from types import FrameType
from typing import TYPE_CHECKING, NoReturn, Self

if TYPE_CHECKING:
    from sys import UnraisableHookArgs

_SOON_S = 0.05


class Terminated(BaseException):
    """The system asked us to stop."""


class HeardStops:
    """Raises `Terminated` or `KeyboardInterrupt` for a signal, again if the first was dropped.

    `asked` is the signal's number, 0 as long as none came. An interrupt that is ignored, as a
    shell asks for what runs in its background, stays ignored.
    """

    def __init__(self) -> None:
        self.asked = 0
        self._hearing = False

    def __enter__(self) -> Self:
        self._dropped = sys.unraisablehook
        sys.unraisablehook = self._drop
        self._terminate = signal.signal(signal.SIGTERM, self._raise)
        self._interrupt = signal.getsignal(signal.SIGINT)
        if self._interrupt is signal.default_int_handler:
            signal.signal(signal.SIGINT, self._raise)
        self._hearing = True
        return self

    def __exit__(self, *_raised: object) -> None:
        self._hearing = False
        signal.signal(signal.SIGTERM, self._terminate)
        signal.signal(signal.SIGINT, self._interrupt)
        sys.unraisablehook = self._dropped

    def _raise(self, number: int, _frame: FrameType | None) -> NoReturn:
        self.asked = number
        if number == signal.SIGTERM:
            raise Terminated
        raise KeyboardInterrupt

    def _drop(self, dropped: UnraisableHookArgs) -> None:
        """Ask once more, a moment later, where a stop was dropped; hand all else on."""
        if issubclass(dropped.exc_type, Terminated | KeyboardInterrupt):
            threading.Timer(_SOON_S, self._ask_again).start()
        else:
            self._dropped(dropped)

    def _ask_again(self) -> None:
        if self._hearing:
            signal.raise_signal(self.asked)
