"""Every command on an hourly table of one's own that asks what its means hide, from elsewhere."""

import pandas as pd
import pytest

from tests.weather.minutes import cloudy
from yieldkit.cli.main import main

pytestmark = pytest.mark.slow

BLOCK = """\
weather:
  file: sky.csv
  format: csv
  columns: {time: when, ghi: ghi, dni: dni, dhi: dhi, temp_air: temp_air, wind_speed: wind_speed}
  zone: UTC+00:00
  sampling: mean
  label: start
  within_hour: {}
"""
PLAN = """\
base: mine.yaml
axes:
  - {name: tilt, path: planes.0.tilt_deg, values: [20, 40]}
keep: {loss_budget: true}
"""


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    """Return a folder with a site, its sky under a relative path, and a plan."""
    folder = tmp_path_factory.mktemp("mine")
    assert main(["new", str(folder / "mine.yaml"), "--at", "47.0,8.0"]) == 0
    text = (folder / "mine.yaml").read_text(encoding="utf-8")
    before, rest = text.split("weather:\n", 1)
    text = before + BLOCK + "module_types:\n" + rest.split("module_types:\n", 1)[1]
    (folder / "mine.yaml").write_text(text, encoding="utf-8")
    (folder / "plan.yaml").write_text(PLAN, encoding="utf-8")
    means = cloudy(4).resample("1h").mean().round(3)
    means.index = means.index.tz_convert(None)
    means.to_csv(folder / "sky.csv", index_label="when", date_format="%Y-%m-%d %H:%M")
    return folder


@pytest.mark.parametrize(
    ("command", "words"),
    [
        (["simulate", "mine.yaml"], "fluctuation within the step: clipping"),
        (["compare", "mine.yaml", "--no-report", "--out", "compared"], "with minutes drawn;"),
        (
            ["propose", "mine.yaml", "--no-report", "--draws", "2", "--out", "proposed"],
            "were reckoned minute by minute",
        ),
        (["check", "mine.yaml"], "NOT CHECKED"),
    ],
)
def test_a_command_reckons_below_the_hour(place, tmp_path, monkeypatch, capsys, command, words):
    monkeypatch.chdir(tmp_path)
    told = [str(place / each) if each in ("mine.yaml",) else each for each in command]
    main(told)
    said = " ".join(capsys.readouterr().out.split())
    assert words in said
    assert "Before far horizon, near shade on single cell groups, snow, spectrum" in said or (
        command[0] == "check"
    )


def test_a_batch_has_both_steps(place, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert main(["sweep", str(place / "plan.yaml"), "--out", "batch", "--workers", "1"]) == 0
    runs = pd.read_parquet(tmp_path / "batch/runs.parquet")
    assert len(runs) == 4
    assert (runs["loss: fluctuation within the step: clipping"] > 0.0).all()
    assert runs["loss: fluctuation within the step: transposition of means"].nunique() == 4
