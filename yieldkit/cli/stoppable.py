"""Progress of work that a person may stop, keeping what is done so far."""

from __future__ import annotations

import signal
from types import FrameType
from typing import Self

from yieldkit.cli.speech import Bars, note


class StoppableBars(Bars):
    """Progress bars of work that can be stopped.

    The first interrupt asks the work to stop and keep what is done; a second one ends it.
    """

    def __enter__(self) -> Self:
        self.stopped = False
        self._before = signal.signal(signal.SIGINT, self._interrupted)
        return super().__enter__()

    def __exit__(self, *raised: object) -> None:
        signal.signal(signal.SIGINT, self._before)
        super().__exit__(*raised)

    def _interrupted(self, _number: int, _frame: FrameType | None) -> None:
        if self.stopped:
            raise KeyboardInterrupt
        self.stopped = True
        note("Stopping; what is done so far is kept. Interrupt again to end at once.")

    def show(self, word: str, done: int, every: int) -> bool:
        """Show how far a piece of work is, and tell whether to stop it."""
        super().show(word, done, every)
        return self.stopped
