"""Refusals that come while a site is worked on name the line of their key."""

import pytest

from yieldkit.base.errors import InputError
from yieldkit.base.shipped import shipped
from yieldkit.cli.main import main
from yieldkit.config.site.files import load_site
from yieldkit.study.simulation.simulate import simulate


@pytest.fixture
def site_file(tmp_path):
    """Return the demonstration's site file with snow that its weather lacks, and its line."""
    text = shipped("site_configs", "demo.yaml").read_text(encoding="utf-8")
    text = text.replace("site:\n", "site:\n  snow: {kind: from-snowfall}\n", 1)
    path = tmp_path / "site.yaml"
    path.write_text(text, encoding="utf-8")
    return path, 1 + text[: text.index("  snow:")].count("\n")


@pytest.mark.parametrize("command", ["simulate", "compare", "propose"])
def test_snow_without_snowfall_is_told_with_its_line(command, site_file, capsys, tmp_path):
    path, line = site_file
    out = ["--out", str(tmp_path / "out"), "--no-report"] if command != "simulate" else []
    assert main([command, str(path), *out]) == 2
    said = " ".join(capsys.readouterr().err.split())
    assert (
        f"yieldkit: site.yaml line {line}, site.snow: got snow from-snowfall, and weather" in said
    )


def test_what_names_no_key_stays_as_it_is(site_file, capsys):
    path, _ = site_file
    assert main(["simulate", str(path), "--wiring", "none such"]) == 2
    assert " line " not in capsys.readouterr().err


def test_by_its_function_a_site_has_no_lines(site_file):
    with pytest.raises(InputError, match=r"^site\.snow: got snow from-snowfall, and weather"):
        simulate(load_site(site_file[0]))
