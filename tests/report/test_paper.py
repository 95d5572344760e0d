"""The report on paper: printed within a minute, with its words, or refused and nothing lost."""

import re
import subprocess
import time

import pytest

from tests.oracles import require
from tests.report.pages import page_in_process
from yieldkit.report import paper
from yieldkit.report.paper import NotPrinted, print_pdf


def test_report_prints_within_a_minute_and_keeps_its_words(comparison, tmp_path, monkeypatch):
    require("chromium")
    program = require("pdftotext")
    page = tmp_path / "page.html"
    page.write_text(page_in_process(monkeypatch, comparison), encoding="utf-8")
    begun = time.monotonic()
    pdf = print_pdf(page, tmp_path / "page.pdf")
    assert time.monotonic() - begun < 60.0
    text = subprocess.run(
        [program, "-layout", str(pdf), "-"], capture_output=True, text=True, check=True
    ).stdout
    first = text.split("\f")[0]
    assert f"'{comparison.best}' yields most" in first
    assert "Is it allowed?" in first
    assert "Live in daylight." in text
    assert 8 <= text.count("\f") <= 22
    assert re.search(r"Made by yieldkit on \d{4}-\d\d-\d\d", text)


def test_without_a_browser_it_is_said(tmp_path, monkeypatch):
    monkeypatch.setattr(paper.shutil, "which", lambda name: None)
    with pytest.raises(NotPrinted, match="No browser was found"):
        print_pdf(tmp_path / "page.html", tmp_path / "page.pdf")


def test_a_browser_that_hangs_is_ended_and_the_older_print_stays(tmp_path, monkeypatch):
    slow = tmp_path / "slow"
    slow.write_text("#!/bin/sh\nexec sleep 30\n")
    slow.chmod(0o755)
    monkeypatch.setattr(paper, "browser", lambda: str(slow))
    monkeypatch.setattr(paper, "_LIMIT_S", 0.3)
    (tmp_path / "page.pdf").write_bytes(b"older")
    with pytest.raises(NotPrinted, match="was not printed within"):
        print_pdf(tmp_path / "page.html", tmp_path / "page.pdf")
    assert (tmp_path / "page.pdf").read_bytes() == b"older"


def test_a_browser_that_makes_nothing_is_told(tmp_path, monkeypatch):
    monkeypatch.setattr(paper, "browser", lambda: "/bin/true")
    with pytest.raises(NotPrinted, match="the browser made no PDF"):
        print_pdf(tmp_path / "page.html", tmp_path / "page.pdf")
    assert not (tmp_path / "page.pdf").exists()
