"""A plant's logs reviewed on the command line, as people would."""

import json
import re

import numpy as np
import pandas as pd
import pytest

import yieldkit
from tests.study.handover import log_generators, trials
from tests.study.logs.tables import columns_of, described, written
from yieldkit.cli.main import main

pytestmark = pytest.mark.slow

DAYS = ("2026-05-20", "2026-06-21", "2026-07-22")
SENSORS = {
    "poa_global": {"west roof": "G1", "east roof": "G2", "dormer": "G3"},
    "temp_module": {"west roof": "T1", "east roof": "T2", "dormer": "T3"},
}


def day_of(day, words):
    """Return a clear day of the demonstration as its logger writes it, AC power beside it."""
    own = log_generators.logged_plant(
        *trials.sites()[0],
        log_generators.GAUSS,
        np.random.default_rng(5),
        slip=words,
        sensors=log_generators.LIGHT_ON_ALL,
        day=day,
    )
    data, weather = own.log.data, own.log.weather
    columns = {}
    for at in range(3):
        for letter, quantity in (("U", "v_dc"), ("I", "i_dc"), ("P", "p_dc")):
            columns[f"{letter}{at + 1}"] = data[quantity].to_numpy()[:, at]
    columns["Pac"] = np.round(0.965 * sum(columns[f"P{at}"] for at in (1, 2, 3)))
    columns["Uac"] = np.round(230.0 + 0.0003 * columns["Pac"], 1)
    for at, plane in enumerate(SENSORS["poa_global"], 1):
        columns[f"G{at}"] = weather[f"poa_global of {plane}"].to_numpy()
        columns[f"T{at}"] = weather[f"temp_module of {plane}"].to_numpy()
    return pd.DataFrame(columns, pd.DatetimeIndex(data["time"].to_numpy()))


@pytest.fixture(scope="module")
def days():
    """Return a few clear days as drawn."""
    return [day_of(day, "as drawn") for day in DAYS]


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """Return an empty folder in which the command is given."""
    monkeypatch.setenv("COLUMNS", "100")
    monkeypatch.chdir(tmp_path)
    (tmp_path / "logs").mkdir()
    return tmp_path


def log_of(folder, days):
    """Write days as a logger does, a file each, and their description."""
    texts = {
        f"{at}.csv": written(day, separator=";", decimal=",", label="end")
        for at, day in enumerate(days)
    }
    described(
        folder / "logs",
        texts,
        SENSORS,
        columns_of("v_dc", "i_dc", "p_dc"),
        label="end",
    )
    return "logs/log.yaml"


def test_a_plant_that_does_what_it_should_has_nothing_to_look_at(folder, days, capsys):
    assert main(["review", log_of(folder, days), "--no-report"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert (
        "nothing that counts in the log looks wrong; what its bands can't tell stays open." in said
    )
    for month in ("2026-05", "2026-06", "2026-07"):
        assert month in said
    assert "design aid and not a certificate" in said
    lead = "Expected from light measured on the planes. Bands: 99 of 100 right plants lie within."
    assert lead in said
    assert not list(folder.glob("yieldkit-report"))


def test_what_is_wrong_is_said_first_and_kept(folder, days, capsys):
    dirty = [
        day.assign(I2=np.round(0.85 * day["I2"], 2), P2=np.round(0.85 * day["P2"])) for day in days
    ]
    assert main(["review", log_of(folder, dirty), "--json", "--out", "kept", "--no-report"]) == 1
    found = json.loads(capsys.readouterr().out)
    assert any(own["subject"] in ("MPPT 2", "east roof") for own in found["signs"])
    assert found["answer"] == found["signs"][0]["words"]
    assert main(["review", "logs/log.yaml", "--no-report"]) == 1
    said = capsys.readouterr().out
    assert "\n1. " in said
    assert not re.search(r"^1\. (.+): \1:", said, re.MULTILINE)
    again = yieldkit.load("kept", "review", yieldkit.load_site())
    assert again.answer == found["answer"]


def test_the_page_is_made_of_what_was_found(folder, days, capsys):
    assert main(["review", log_of(folder, days), "--out", "report"]) == 0
    page = (folder / "report" / "first_year.html").read_text(encoding="utf-8")
    assert "Does it do what it should? Long barn" in page
    assert "Month by month" in page
    assert "first_year.html" in capsys.readouterr().err


def test_a_log_of_minutes_says_nothing_of_a_plant(folder, days, capsys):
    noon = days[1].between_time("11:00", "12:00")
    assert main(["review", log_of(folder, [noon]), "--no-report"]) == 2
    said = " ".join(capsys.readouterr().err.split())
    assert (
        "needs some days of steps in good light that count" in said or "expected some days" in said
    )


def test_a_table_gets_a_description_to_fill_in(folder, days, capsys):
    (folder / "june days.csv").write_text(written(days[1]), encoding="utf-8")
    assert main(["review", "june days.csv", "--describe"]) == 0
    assert "then run: yieldkit review 'june days.yaml'" in " ".join(capsys.readouterr().out.split())
    text = (folder / "june days.yaml").read_text(encoding="utf-8")
    assert "june days.csv" in text
    assert "label:" in text
    assert main(["review", "june days.csv", "--describe"]) == 2
    assert "got a file that exists" in capsys.readouterr().err
    assert main(["review", "june days.yaml", "--no-report"]) == 2
    assert "zone: got nothing; expected" in " ".join(capsys.readouterr().err.split())


def test_obstacles_that_are_left_out_are_so_on_the_page_as_well(folder, days, monkeypatch):
    asked = {}

    def page(notebook, given, folder, **_more):
        asked.update(given, notebook=notebook)
        return folder / "first_year.html"

    monkeypatch.setattr(yieldkit, "run_report", page)
    log = log_of(folder, days)
    assert main(["review", log, "--without-obstacles", "--out", "bare"]) == 0
    assert (asked["notebook"], asked["obstacles"]) == ("first_year.ipynb", False)
    assert main(["review", log, "--out", "all"]) == 0
    assert asked["obstacles"] is True
