"""Sites written back: wirings added, and files of their own still found from another folder."""

import pytest

from tests.config.small import TEXT
from yieldkit.base.errors import InputError
from yieldkit.config.site.files import load_site, site_text
from yieldkit.config.site.written_back import with_wirings

SERIES = "grid: {network_voltage: {kind: series, file: measured/volts.csv}}\n"


@pytest.fixture
def own(tmp_path):
    """Return a site file of one's own whose weather and voltages are named by relative paths."""
    for name in ("plans/sun.csv", "plans/measured/volts.csv"):
        file = tmp_path / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text("x\n")
    path = tmp_path / "plans" / "barn.yaml"
    path.write_text(TEXT.replace("typical-year-45n-8e", "sun.csv # mine\n ") + SERIES)
    return path


def moved(own, into):
    """Return the site read back from another folder, and its text."""
    site = load_site(own)
    text = with_wirings(site_text(own), site.wirings[:1], own.parent, into)
    into.mkdir(parents=True, exist_ok=True)
    (into / "saved.yaml").write_text(text)
    return load_site(into / "saved.yaml"), text


def test_in_another_folder_the_paths_lead_to_the_same_files(own, tmp_path):
    site, text = moved(own, tmp_path / "offers" / "spring")
    assert site.weather.file == "../../plans/sun.csv"
    assert site.grid.network_voltage.file == "../../plans/measured/volts.csv"
    assert "# mine" in text
    assert len(site.wirings) == 2


def test_in_the_same_folder_the_paths_stay_as_they_are(own):
    site, _ = moved(own, own.parent)
    assert (site.weather.file, site.grid.network_voltage.file) == ("sun.csv", "measured/volts.csv")


def test_a_path_that_counts_from_here_is_led_on(own, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    own.write_text(own.read_text().replace("sun.csv", "plans/sun.csv"))
    site, _ = moved(own, tmp_path / "offers")
    assert site.weather.file == "../plans/sun.csv"


def test_whole_paths_and_data_sets_stay(tmp_path):
    whole = tmp_path / "sun.csv"
    whole.write_text("x\n")
    for name in (str(whole), "typical-year-45n-8e"):
        own = tmp_path / "barn.yaml"
        own.write_text(TEXT.replace("typical-year-45n-8e", name))
        site, _ = moved(own, tmp_path / "offers")
        assert site.weather.file == name


def test_without_its_folder_a_relative_path_is_refused(own):
    site = load_site(own)
    with pytest.raises(InputError, match=r"weather\.file: got 'sun\.csv', which is not there"):
        with_wirings(site_text(own), site.wirings[:1])


def test_a_mark_at_the_start_of_the_file_harms_nothing(own):
    own.write_bytes(b"\xef\xbb\xbf" + own.read_bytes())
    assert site_text(own).startswith("schema_version")
