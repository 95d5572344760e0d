"""What the commands print: defaults are said, progress stays off pipes, no name steers anything."""

import csv
import io
import json
import os
import re
import subprocess
import sys

import pytest

from yieldkit.base.shipped import shipped
from yieldkit.cli import main as cli
from yieldkit.cli import speech as cli_site

pytestmark = pytest.mark.slow

WIRINGS = (
    "one plane per tracker",
    "lopsided",
    "west and east in parallel",
    "dormer in series with east",
)


def without_compiling(text):
    """Return the lines of a text without the one that a machine's first run has."""
    return [line for line in text.splitlines() if not line.startswith("Compiling the solvers")]


def test_compare_says_that_it_took_the_demonstration_site_and_is_quiet_in_a_pipe(tmp_path):
    done = subprocess.run(
        [sys.executable, "-m", "yieldkit", "compare", "--no-report"],
        capture_output=True,
        text=True,
        cwd=tmp_path,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0
    assert without_compiling(done.stderr) == [
        "No site file given: using the demonstration site (invented)."
    ]
    assert " yields most: " in done.stdout.splitlines()[0]
    assert all(name in done.stdout for name in WIRINGS)
    assert "A design aid, not a certificate." in " ".join(done.stdout.split())
    assert list(tmp_path.iterdir()) == []


def test_simulate_says_that_it_took_the_first_wiring_and_saves(tmp_path, capsys):
    assert cli.main(["simulate", "--out", str(tmp_path)]) == 0
    told = capsys.readouterr()
    assert without_compiling(told.err) == [
        "No site file given: using the demonstration site (invented).",
        "No wiring named: using the first, 'one plane per tracker'.",
    ]
    saved = [line.removeprefix("Saved: ") for line in told.out.splitlines() if "Saved: " in line]
    assert len(saved) == 3
    assert all(os.path.getsize(path) > 100 for path in saved)  # noqa: PTH202


def test_check_takes_all_wirings_and_says_so(capsys):
    assert cli.main(["check"]) == 0
    told = capsys.readouterr()
    assert "No wiring named: checking all 4." in told.err
    assert all(f"Wiring '{name}': permitted; " in told.out for name in WIRINGS)


def test_check_prints_json_that_parses_strictly(capsys):
    def refuse_constant(word):
        raise ValueError(word)

    cli.main(["check", "--wiring", "lopsided", "--json"])
    content = json.loads(capsys.readouterr().out, parse_constant=refuse_constant)
    assert len(content["findings"]) > 20
    assert set(content["counts"]) == {"lopsided"}
    assert content["cautions"]


def test_check_prints_csv_with_a_row_for_each_finding(capsys):
    cli.main(["check", "--wiring", "lopsided", "--csv"])
    rows = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))
    assert len(rows) > 20
    assert {row["wiring"] for row in rows} == {"lopsided"}


def test_schema_is_json_with_the_keys_of_a_site_file(capsys):
    assert cli.main(["schema"]) == 0
    content = json.loads(capsys.readouterr().out)
    assert {"site", "weather", "planes", "inverter", "wirings"} <= set(content["properties"])


def test_new_writes_a_file_that_checks_and_never_replaces_one(tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert cli.main(["new"]) == 0
    assert "yieldkit compare site.yaml" in capsys.readouterr().out
    assert [item.name for item in tmp_path.iterdir()] == ["site.yaml"]
    # Much is not known of what the file to start from describes: essential limits are open.
    assert cli.main(["check", "site.yaml"]) == 4
    text = " ".join(capsys.readouterr().out.split())
    assert re.search(r"nothing forbidden found; \d\d limits not checked, among them cold", text)
    (tmp_path / "site.yaml").write_text("mine")
    assert cli.main(["new"]) == 2
    assert "site.yaml: got a file that exists; expected a new name." in capsys.readouterr().err
    assert (tmp_path / "site.yaml").read_text() == "mine"


def test_a_site_file_named_explicitly_is_not_announced(tmp_path, capsys):
    demo = shipped("site_configs", "demo.yaml")
    assert cli.main(["check", str(demo), "--wiring", "lopsided"]) == 0
    assert capsys.readouterr().err == ""


@pytest.mark.parametrize("sign", ["\x1b[2J", "\x9b2J", "\u202e", "\x07", "\r"])
def test_names_that_steer_a_terminal_lose_their_force(sign, tmp_path, capsys):
    text = shipped("site_configs", "demo.yaml").read_text(encoding="utf-8")
    escaped = json.dumps(f"lop{sign}sided")
    hostile = tmp_path / "site.yaml"
    hostile.write_text(text.replace("name: lopsided", f"name: {escaped}"), encoding="utf-8")
    assert cli.main(["check", str(hostile)]) in (0, 2)
    assert cli.main(["check", str(hostile), "--wiring", f"lop{sign}sidet"]) == 2
    told = capsys.readouterr()
    assert told.err
    for part in (told.out, told.err):
        assert all(letter == "\n" or letter.isprintable() for letter in part)


def test_what_is_said_is_printable(capsys):
    cli_site.say("a\x1b[31m\tb\nc")
    cli_site.note("d\x1b\ne")
    told = capsys.readouterr()
    assert told.out == "a[31m b\nc\n"
    assert told.err == "d e\n"
