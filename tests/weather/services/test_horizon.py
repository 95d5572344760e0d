"""The far horizon fetched from the service's form, invented, and named in a site file."""

import json

import pytest

from tests.weather.services.answering import answer
from yieldkit.cli.main import main
from yieldkit.config.site.files import load_site, new_site_text, read_site_text


def told(elevations, first=-180.0):
    """Return an answer in the service's form: azimuths from south, the last point the first."""
    step = 360.0 / len(elevations)
    profile = [
        {"A": first + step * number, "H_hor": height}
        for number, height in enumerate([*elevations, elevations[0]])
    ]
    content = {"meta": {}, "outputs": {"horizon_profile": profile}}
    return answer(json.dumps(content).encode())


def test_a_fetched_horizon_is_a_file_that_a_site_names(asked, capsys, tmp_path):
    heights = [1.1, 0.0, 4.6, 2.3, 0.8, 0.0, 11.5, 3.1]
    asked.answer(told(heights))
    site = tmp_path / "mine.yaml"
    site.write_text(new_site_text(), encoding="utf-8")
    assert main(["weather", str(site), "--horizon", "--out", str(tmp_path / "far.csv")]) == 0
    said = capsys.readouterr().out
    assert "8 points, the highest 11.5 deg above horizontal at 270 deg from north" in said
    assert "  horizon_file: far.csv" in said
    place = load_site(site).site
    ((path, query),) = asked.questions
    assert path.endswith("printhorizon")
    assert float(query["lat"]) == place.latitude
    text = site.read_text(encoding="utf-8")
    named = text.replace("site:\n", "site:\n  horizon_file: far.csv\n", 1)
    points = read_site_text(named, folder=str(tmp_path)).site.horizon
    assert [each.elevation_deg for each in points] == heights
    assert [each.azimuth_deg for each in points] == [45.0 * n for n in range(8)]
    again = ["weather", str(site), "--horizon", "--out", str(tmp_path / "far.csv")]
    assert main(again) == 2
    assert "got a file that is there; expected a new file" in capsys.readouterr().err


@pytest.mark.parametrize("heights", [[1.0, 2.0, 3.0], [5.0] * 7 + [95.0]])
def test_what_is_no_horizon_is_not_written(asked, capsys, tmp_path, heights):
    asked.answer(told(heights))
    path = tmp_path / "far.csv"
    assert main(["weather", "--at", "48,11", "--horizon", "--out", str(path)]) == 2
    said = capsys.readouterr().err
    assert f"got an answer of {len(heights)} elevations; expected elevations of 0 to 89" in said
    assert not path.exists()


def test_a_service_that_fails_is_told_in_a_sentence(asked, capsys, tmp_path):
    asked.answer(answer(b'{"message": "Location over sea"}', 400))
    assert main(["weather", "--at", "48,11", "--horizon", "--out", str(tmp_path / "f.csv")]) == 2
    assert "Location over sea" in capsys.readouterr().err
