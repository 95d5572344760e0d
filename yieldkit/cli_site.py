"""The site and the wiring a command works on, and how a command speaks."""

from __future__ import annotations

import sys
from argparse import Namespace
from collections.abc import Iterable

from yieldkit.config.files import load_site
from yieldkit.config.site import Site
from yieldkit.words.plain import plain_line, plain_text


def chosen_site(options: Namespace) -> Site:
    """Return the site that was named, or the demonstration site, and say so."""
    if options.site is None:
        note("No site file given: using the demonstration site (invented).")
    return load_site(options.site)


def say(text: str) -> None:
    """Print a command's answer; nothing in it steers the terminal."""
    print(plain_text(text))


def caution(sentences: Iterable[str]) -> None:
    """Print what a person must know before believing the answer, a sentence a line."""
    for sentence in sentences:
        note(f"Caution: {sentence}")


def note(text: str) -> None:
    """Print a remark beside the answer."""
    print(plain_line(text), file=sys.stderr)
