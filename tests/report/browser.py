"""The browser that tests use, without a window: what a page becomes in it, and on paper."""

import os
import subprocess
import tempfile
from pathlib import Path

from tests.oracles import require

_FLAGS = (
    "--headless",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


def in_browser(page, *flags, limit_s=60.0):
    """Open a page's text; return what the browser prints."""
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        path = Path(folder) / "page.html"
        path.write_text(page, encoding="utf-8")
        return _opened(path, Path(folder) / "profile", *flags, limit_s=limit_s)


def print_pdf(page, pdf):
    """Print an HTML file to PDF; a minute is enough for any of our pages."""
    flags = ("--no-pdf-header-footer", f"--print-to-pdf={pdf}")
    _opened(Path(page), Path(pdf).with_suffix(".profile"), *flags, limit_s=60.0)
    assert Path(pdf).read_bytes().startswith(b"%PDF")


def _opened(path, profile, *flags, limit_s):
    # A browser run by the system's administrator refuses its sandbox.
    as_root = ("--no-sandbox",) if hasattr(os, "geteuid") and os.geteuid() == 0 else ()
    command = (require("chromium"), *_FLAGS, *as_root, f"--user-data-dir={profile}", *flags)
    done = subprocess.run(
        [*command, path.resolve().as_uri()], capture_output=True, timeout=limit_s, check=True
    )
    return done.stdout.decode("utf-8", "replace")
