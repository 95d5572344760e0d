"""Weather named in a site file: nothing else of the file changes; and a site begun at a place."""

from pathlib import Path

import pytest

from tests.config.small import TEXT
from tests.weather.services.answering import answer, typical_year
from yieldkit.base.coordinates import degrees_text, latitude_longitude, zone_by_longitude
from yieldkit.base.errors import InputError
from yieldkit.cli import main as cli
from yieldkit.config.site.files import load_site, new_site_text
from yieldkit.config.site.weather_block import own_place, with_weather


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "sun.csv").write_text("x\n")
    (tmp_path / "other.csv").write_text("x\n")
    return tmp_path


def changed(text, folder, file="sun.csv", altitude=None):
    return with_weather(text, file, altitude, folder, "roof.yaml")


def own(block, rest=TEXT):
    """Return the small site with another weather block."""
    begin = rest.index("weather:")
    end = rest.index("\n", begin) + 1
    while rest[end : end + 1] == " ":
        end = rest.index("\n", end) + 1
    return rest[:begin] + block + rest[end:]


def test_only_the_values_of_the_block_change(folder):
    text = own(
        "weather: # mine\n"
        "  # kept by the school\n"
        "  file: other.csv   # logger 3\n"
        "  format: canonical\n"
        "  fill_gaps_up_to_h: 2 # as agreed\n"
        "# --- the roof ---\n"
    )
    new, told = changed(text, folder)
    assert new == text.replace("other.csv", "sun.csv")
    assert told == []
    assert load(new, folder).weather.fill_gaps_up_to_h == 2


def load(text, folder):
    path = folder / "roof.yaml"
    path.write_text(text)
    return load_site(path)


def test_keys_of_the_file_that_was_named_go_and_comments_stay(folder):
    text = own(
        "weather:\n"
        "  file: other.csv\n"
        "  format: csv # the logger's\n"
        "  columns: # as it names them\n"
        "    time: Time\n"
        "    ghi: G\n"
        "    # a remark between\n"
        "    temp_air: T\n"
        "  # before the zone\n"
        "  zone: UTC+01:00\n"
        "  sampling: mean\n"
        "  label: start\n"
        "  moved: true\n"
        "# --- the roof ---\n"
    )
    new, told = changed(text, folder)
    assert told == ["Taken out of the weather block: columns, zone, sampling, label, moved."]
    assert (
        "weather:\n"
        "  file: sun.csv\n"
        "  format: canonical # the logger's\n"
        "  # before the zone\n"
        "# --- the roof ---\n"
    ) in new
    weather = load(new, folder).weather
    assert (weather.file, weather.format, weather.columns) == ("sun.csv", "canonical", None)
    assert (weather.zone, weather.sampling, weather.moved) == (None, None, False)


@pytest.mark.parametrize(
    "block",
    [
        "weather: {file: other.csv, format: epw, fill_gaps_up_to_h: 2} # mine\n",
        "weather: {\n  file: other.csv, format: epw,\n  fill_gaps_up_to_h: 2} # mine\n",
    ],
)
def test_a_block_within_braces(folder, block):
    new, _ = changed(own(block), folder)
    line = "weather: {file: sun.csv, format: canonical, fill_gaps_up_to_h: 2} # mine\n"
    assert line in new
    assert load(new, folder).weather.file == "sun.csv"


def test_a_block_that_lacks_a_key_is_completed(folder):
    new, _ = changed(own("weather:\n  format: epw\n  fill_gaps_up_to_h: 1\n"), folder)
    assert load(new, folder).weather.file == "sun.csv"
    assert load(new, folder).weather.fill_gaps_up_to_h == 1


def test_line_ends_from_elsewhere_and_a_name_with_blanks_stay(folder):
    (folder / "sun of May.csv").write_text("x\n")
    text = own("weather:\n  file: other.csv # mine\n  format: canonical\n").replace("\n", "\r\n")
    new, _ = changed(text, folder, "sun of May.csv")
    assert new == text.replace("other.csv", '"sun of May.csv"')


def test_a_block_that_is_none_is_refused_and_the_printed_one_named(folder):
    with pytest.raises(
        InputError,
        match=r"^roof\.yaml: got no weather block of keys and values; expected one to write into\. "
        r"Paste the block that was printed\.$",
    ):
        changed(own("weather: other.csv\n"), folder)


def test_a_site_file_that_is_unsound_elsewhere_is_not_touched(folder):
    with pytest.raises(InputError, match=r"roof\.yaml line 1, schema_version: got "):
        changed(TEXT.replace("schema_version: 1", "schema_version: 7"), folder)


@pytest.mark.parametrize(
    ("site", "told"),
    [
        ("site: {longitude: 8}\n", "site.latitude: got no number; expected degrees from -90 to 90"),
        ("site: {latitude: 99, longitude: 8}\n", "site.latitude: got 99; expected degrees from"),
        ("site: {latitude: 9, longitude: 190}\n", "longitude: got 190; expected degrees from -180"),
    ],
)
def test_a_site_without_a_place(site, told):
    with pytest.raises(InputError, match=told):
        own_place(site, "roof.yaml")


def test_a_height_that_was_stated_stays(folder):
    new, told = changed(TEXT, folder, altitude=1234.0)
    assert "1234" not in new
    assert told == []


def test_new_at_a_place_is_the_starter_with_its_place(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert cli.main(["new", "my-roof.yaml", "--at", "-33.9,151.2"]) == 0
    assert capsys.readouterr().out.splitlines() == [
        "Wrote my-roof.yaml, a site at 33.9 S 151.2 E in time zone UTC+10:00.",
        "The zone is a guess from the longitude: correct it there, or state --time-zone.",
        "Its height is left at 0 m, and its weather is not there yet. To fetch both:",
        "yieldkit weather --into my-roof.yaml",
    ]
    text = (tmp_path / "my-roof.yaml").read_text()
    assert (
        "  time_zone: UTC+10:00 # a guess from the longitude: correct it; standard time\n" in text
    )
    assert "  altitude_m: 0 # a guess: fetched with the weather, or write your own\n" in text
    assert "45.0 N" not in text
    assert "45 N" not in text
    with pytest.raises(InputError, match="which is not there") as refused:
        load_site("my-roof.yaml")
    (problem,) = refused.value.problems
    assert problem.got == "'weather-33.9s-151.2e.csv', which is not there"
    assert problem.remedy == (
        "Paths count from the site file's folder. `yieldkit weather --into` and the site file "
        "fetch a year of its place."
    )
    (tmp_path / "weather-33.9s-151.2e.csv").write_text("x\n")
    site = load_site("my-roof.yaml").site
    assert (site.latitude, site.longitude, site.altitude_m) == (-33.9, 151.2, 0.0)
    assert len(text.splitlines()) == len(new_site_text().splitlines())


def test_new_refuses_a_zone_that_a_site_there_can_not_have(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    west = ["new", "a.yaml", "--at", "-34.9,138.6", "--time-zone", "UTC-09:30"]
    assert cli.main(west) == 2
    assert capsys.readouterr().err == (
        "yieldkit: --time-zone: got zone UTC-09:30 at longitude 138.6; expected about UTC+09:00 "
        "there. The sign of the offset? Longitude is positive to the east, zones count hours "
        "ahead of UTC.\n"
    )
    assert not (tmp_path / "a.yaml").exists()
    assert cli.main([*west[:-1], "UTC+09:30"]) == 0


def test_every_digit_of_a_place_is_kept_and_no_other_places_weather_is_proposed(
    tmp_path, monkeypatch
):
    monkeypatch.chdir(tmp_path)
    cli.main(["new", "one.yaml", "--at", "-33.867851,151.207321"])
    place = own_place(Path("one.yaml").read_text(), "one.yaml")
    assert place == (-33.867851, 151.207321, "UTC+10:00")
    cli.main(["new", "two.yaml", "--at", "44,9"])
    with pytest.raises(InputError, match=r"weather-44n-9e\.csv', which is not there") as refused:
        load_site("two.yaml")
    assert "Did you mean" not in str(refused.value)


def test_new_at_a_place_with_its_zone(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert cli.main(["new", "a b.yaml", "--at", "45,8", "--time-zone", "Etc/GMT-1"]) == 0
    told = capsys.readouterr().out
    assert "guess from the longitude" not in told
    assert "yieldkit weather --into 'a b.yaml'" in told
    assert "  time_zone: Etc/GMT-1 # hours ahead" in (tmp_path / "a b.yaml").read_text()


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--at", "north"), "--at: got 'north'; expected latitude and longitude in degrees"),
        (("--at", "45,8", "--time-zone", "noon"), "--time-zone: got 'noon'; expected an offset"),
        (
            ("--time-zone", "UTC"),
            "--time-zone: got a time zone without a place; expected --at LAT,LON beside it.",
        ),
    ],
)
def test_new_refuses_a_place_that_is_none(tmp_path, monkeypatch, capsys, words, told):
    monkeypatch.chdir(tmp_path)
    assert cli.main(["new", "my-roof.yaml", *words]) == 2
    assert told in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_into_fetches_height_and_weather_and_keeps_the_rest(asked, capsys):
    asked.answer(answer(typical_year()))
    cli.main(["new", "plans/roof.yaml", "--at", "45,8"])
    before = Path("plans/roof.yaml").read_text()
    capsys.readouterr()
    assert cli.main(["weather", "--into", "plans/roof.yaml", "--out", "year.csv"]) == 0
    told = capsys.readouterr().out
    assert 'weather:\n  file: "../year.csv"\n  format: canonical\n' in told
    assert "plans/roof.yaml names it now, in this block; the rest of it is as it was.\n" in told
    assert "site.altitude_m is now 250, as the weather's source has it.\n" in told
    after = Path("plans/roof.yaml").read_text()
    lines = dict(zip(before.splitlines(), after.splitlines(), strict=True))
    assert {old.split(":")[0].strip(): new for old, new in lines.items() if old != new} == {
        "altitude_m": "  altitude_m: 250 # as the weather's source has it",
        "file": '  file: "../year.csv"',
    }
    assert load_site("plans/roof.yaml").site.altitude_m == 250.0


def test_into_a_site_whose_file_stays_beside_it(asked):
    asked.answer(answer(typical_year()))
    cli.main(["new", "plans/roof.yaml", "--at", "45,8"])
    assert cli.main(["weather", "--into", "plans/roof.yaml"]) == 0
    assert load_site("plans/roof.yaml").weather.file == "weather-45n-8e.csv"
    assert Path("plans/weather-45n-8e.csv").is_file()


def test_the_remark_on_the_shipped_year_goes_with_it(folder):
    new, _ = changed(new_site_text(), folder)
    assert "\n  file: sun.csv\n" in new
    assert "45.0 N 8.0 E only" not in new
    assert new.count("\n") == new_site_text().count("\n")


@pytest.mark.parametrize(
    ("text", "place", "words", "zone"),
    [
        ("-33.9,151", (-33.9, 151.0), "33.9 S 151 E", "UTC+10:00"),
        (" 45.1 ; 8.25 ", (45.1, 8.25), "45.1 N 8.25 E", "UTC+01:00"),
        ("0,-108.54", (0.0, -108.54), "0 N 108.54 W", "UTC-07:00"),
        ("\u221233.9,180", (-33.9, 180.0), "33.9 S 180 E", "UTC+12:00"),
        ("-1,-180", (-1.0, -180.0), "1 S 180 W", "UTC-12:00"),
        ("51.5,-0.1", (51.5, -0.1), "51.5 N 0.1 W", "UTC+00:00"),
        ("51.5,0.4", (51.5, 0.4), "51.5 N 0.4 E", "UTC+00:00"),
        ("0.4,-0.4", (0.4, -0.4), "0.4 N 0.4 W", "UTC+00:00"),
    ],
)
def test_places_as_people_write_them(text, place, words, zone):
    assert latitude_longitude(text, "--at") == place
    assert degrees_text(*place) == words
    assert zone_by_longitude(place[1]) == zone


@pytest.mark.parametrize("text", ["", "45", "45,8,3", "45,1,8,2", "nan,8", "45 8", "4e1,8"])
def test_what_is_no_place(text):
    with pytest.raises(InputError, match="expected latitude and longitude in degrees, such as"):
        latitude_longitude(text, "--at")
