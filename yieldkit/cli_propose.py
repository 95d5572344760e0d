"""The command that finds and ranks every permitted wiring."""

from __future__ import annotations

import json
import logging
import signal
import sys
from argparse import Namespace
from pathlib import Path
from types import FrameType

from tqdm import tqdm

from yieldkit.cli_site import caution, chosen_site, note, say
from yieldkit.config.files import site_text
from yieldkit.config.written_back import with_wirings
from yieldkit.design.wishes import wishes_from
from yieldkit.report.notebook import run_report
from yieldkit.report.text import proposal_text
from yieldkit.study.proposal import refuse_counts, weigh
from yieldkit.study.propose import propose as propose_wirings
from yieldkit.study.saved_ranking import RANKING_FILE, save_ranking
from yieldkit.study.weather import weather_cautions
from yieldkit.words.errors import refuse
from yieldkit.words.store import write_text

DONE, INTERRUPTED = 0, 130


def propose(options: Namespace) -> int:
    """Rank every permitted wiring; save the ranking before what takes longer."""
    site = chosen_site(options)
    wishes = {
        "leave_out": options.leave_out,
        "strings": options.strings,
        "shortest": options.shortest,
        "longest": options.longest,
        "cross": [_names(text) for text in options.cross],
        "keep_free": options.keep_free,
        "laid": options.laid,
        "wiring": options.wiring,
    }
    target = Path(options.save_site) if options.save_site else None
    if target is not None and target.exists():
        refuse(str(target), "a file that exists", "a new name", remedy="Name another file.")
    refuse_counts(options.top, options.draws)
    asked = wishes_from(site, wishes)
    with ProgressBar() as bar:
        ranking = propose_wirings(
            site, asked, most=options.most, progress=bar.told, every_days=options.every_days
        )
        if not ranking.order.size:
            raise KeyboardInterrupt
        drawn_here = options.no_report and not bar.stopped
        proposal = weigh(ranking, options.top, options.draws if drawn_here else 0, bar.told)
    say(proposal_text(proposal))
    caution(weather_cautions(ranking.prepared.weather))
    if target is not None:
        write_text(target, with_wirings(site_text(options.site), proposal.best), record=False)
        say(f"\nWrote {target}: the site with {len(proposal.best)} proposed wirings.")
    if options.no_report:
        return INTERRUPTED if bar.stopped else DONE
    out = Path(options.out)
    say(f"\nRanking: {save_ranking(ranking, out)}")
    if bar.stopped:
        note("Stopped: what was ranked so far is kept; there is no report.")
        return INTERRUPTED
    logging.getLogger("asyncio").setLevel(logging.CRITICAL)
    note("Drawing what nobody knows, for the report.")
    named = "" if options.site is None else str(Path(options.site).resolve())
    report = run_report(
        "propose_wirings.ipynb",
        {
            "site_file": named,
            "wishes": json.dumps(wishes),
            "top": options.top,
            "draws": options.draws,
            "most": options.most,
            "ranking_file": str((out / RANKING_FILE).resolve()),
        },
        out,
    )
    say(f"Report: {report}")
    return DONE


def _names(text: str) -> list[str]:
    return [name.strip() for name in text.split(",") if name.strip()]


class ProgressBar:
    """One progress bar after the other, with counts; quiet when nobody looks.

    The first interrupt asks the work to stop and keep what is done; a second one ends it.
    """

    def __enter__(self) -> ProgressBar:
        self._bar: tqdm | None = None
        self._word = ""
        self.stopped = False
        self._before = signal.signal(signal.SIGINT, self._interrupted)
        return self

    def __exit__(self, *_: object) -> None:
        signal.signal(signal.SIGINT, self._before)
        if self._bar is not None:
            self._bar.close()

    def _interrupted(self, _number: int, _frame: FrameType | None) -> None:
        if self.stopped:
            raise KeyboardInterrupt
        self.stopped = True
        note("Stopping; what is done so far is kept. Interrupt again to end at once.")

    def told(self, word: str, done: int, every: int) -> bool:
        """Show how far a piece of work is, and tell whether to stop it."""
        if word != self._word:
            if self._bar is not None:
                self._bar.close()
            self._word = word
            self._bar = tqdm(total=every, desc=word, disable=not sys.stderr.isatty(), leave=False)
        if self._bar is not None:
            self._bar.update(done - self._bar.n)
        return self.stopped
