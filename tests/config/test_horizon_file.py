"""A far horizon in a file: what is read of it, and what is told of one that is wrong."""

import pytest

from tests.config.small import TEXT, mapping, sentence
from yieldkit.base.errors import InputError
from yieldkit.config.site.files import read_site_text, site_from_mapping

HEAD = "azimuth_deg,elevation_deg\n"


def written(folder, text):
    """Return the small site's text with a horizon file of some text."""
    (folder / "far.csv").write_text(text, encoding="utf-8")
    return TEXT.replace(
        "  name: Shed (invented)\n", "  name: Shed (invented)\n  horizon_file: far.csv\n"
    )


def test_its_points_stand_in_the_files_place_and_planes_own_ones_first(tmp_path):
    text = written(tmp_path, "# by hand\n" + HEAD + "0,3\n90.5,12.25\n")
    site = read_site_text(text, folder=str(tmp_path))
    assert [(p.azimuth_deg, p.elevation_deg) for p in site.site.horizon] == [(0, 3), (90.5, 12.25)]
    assert site.site.horizon_file is None
    assert site.horizon_of(site.planes[0]) == site.site.horizon
    own = [{"azimuth_deg": 10.0, "elevation_deg": 1.0}]
    other = site.variant({"planes.west.horizon": own})
    assert len(other.horizon_of(other.planes[0])) == 1
    assert other.horizon_of(other.planes[1]) == site.site.horizon
    (tmp_path / "near.csv").write_text(HEAD + "5,7\n", encoding="utf-8")
    again = site.variant({"site.horizon_file": "near.csv"})
    assert [p.elevation_deg for p in again.site.horizon] == [7.0]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (HEAD + "0,3\n90,4\n90,5\n", "line 4: got the azimuth 90; expected rising azimuths from 0"),
        (HEAD + "90,3\n0,4\n", "line 3: got the azimuth 0; expected rising azimuths from 0 up to"),
        (HEAD + "360,3\n", "line 2: got the azimuth 360; expected rising azimuths"),
        (HEAD + "0,90\n", "line 2: got the elevation 90; expected 0 up to below 90 degrees above"),
        (HEAD + "0,-1\n", "line 2: got the elevation -1; expected 0 up to below 90 degrees above"),
        (HEAD + "0;3\n", "line 2: got '0;3'; expected two numbers in degrees"),
        ("0,3\n", "got the columns '0, 3'; expected the columns azimuth_deg, elevation_deg"),
        ("", "got an empty file; expected the columns azimuth_deg, elevation_deg"),
    ],
)
def test_what_is_wrong_in_it_is_told_with_its_line(tmp_path, text, said):
    with pytest.raises(InputError, match=r"far\.csv") as refused:
        read_site_text(written(tmp_path, text), folder=str(tmp_path))
    assert said in str(refused.value)


def test_a_file_that_is_not_there_or_stands_beside_a_list(tmp_path):
    text = written(tmp_path, HEAD + "0,3\n")
    with pytest.raises(
        InputError, match=r"'far\.csv', which is not there; expected a file that is"
    ):
        read_site_text(text, folder=str(tmp_path / "elsewhere"))
    both = text.replace(
        "horizon_file:", "horizon: [{azimuth_deg: 1, elevation_deg: 2}]\n  horizon_file:"
    )
    with pytest.raises(InputError, match="a horizon_file beside horizon; expected one of the two"):
        read_site_text(both, folder=str(tmp_path))


def test_the_places_own_list_is_checked_as_a_planes():
    content = mapping()
    points = [{"azimuth_deg": a, "elevation_deg": 5.0} for a in (90.0, 45.0)]
    content["site"] = dict(content["site"]) | {"horizon": points}
    assert sentence(content).startswith(
        "site, site.horizon.1.azimuth_deg: got the azimuth 45 after 90; expected azimuths in rising"
    )
    content["site"] |= {"horizon": points[::-1]}
    assert len(site_from_mapping(content).site.horizon) == 2
