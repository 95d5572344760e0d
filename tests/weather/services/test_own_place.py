"""The readme's way to a site in one's own place, from an empty folder, word by word."""

import re
import shlex
from pathlib import Path

import pytest

from tests.house.layers import ROOT
from tests.weather.services.answering import answer, typical_year
from yieldkit.cli import main as cli

pytestmark = pytest.mark.slow


def commands():
    """Return the readme's commands below its heading."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    part = text.split("## In your own place\n")[1].split("\n## ")[0]
    (block,) = re.findall(r"^```console\n(.*?)^```$", part, re.MULTILINE | re.DOTALL)
    return [shlex.split(line) for line in block.splitlines()]


def test_three_commands_from_an_empty_folder(asked, capsys):
    asked.answer(answer(typical_year()))
    lines = commands()
    assert [words[:2] for words in lines] == [
        ["yieldkit", "new"],
        ["yieldkit", "weather"],
        ["yieldkit", "compare"],
    ]
    for words in lines[:2]:
        assert cli.main(words[1:]) == 0
    assert len(asked.questions) == 1
    assert capsys.readouterr().err.splitlines() == [
        "Weather of 45.2 N 8.1 E from: Joint Research Centre, typical year."
    ]
    # The report's pictures are others' to test.
    assert cli.main([*lines[2][1:], "--no-report"]) == 0
    told = capsys.readouterr()
    assert " yields most: " in told.out.splitlines()[0]
    assert told.err == ""
    assert len(asked.questions) == 1
    assert sorted(path.name for path in Path.cwd().iterdir()) == [
        "my-roof.yaml",
        "weather-45.2n-8.1e.csv",
    ]
