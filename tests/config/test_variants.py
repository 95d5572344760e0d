"""Sites made without a file: from mappings, as variants, and written back to YAML."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from tests.config.dumped import dump_site
from tests.config.small import SITE, TEXT, mapping, refusal, sentence
from yieldkit.base.errors import InputError
from yieldkit.base.shipped import shipped
from yieldkit.config.models.base import steers
from yieldkit.config.reading.changes import changed
from yieldkit.config.site.files import (
    load_site,
    new_site_text,
    read_site_text,
    site_from_mapping,
)

pytestmark = pytest.mark.slow


def test_a_mapping_makes_the_same_site_as_its_file():
    assert site_from_mapping(mapping()) == SITE
    assert site_from_mapping(SITE.model_dump()) == SITE


def test_a_variant_is_a_new_site_and_leaves_the_old_one():
    before = SITE.model_dump()
    other = SITE.variant(
        {
            "planes.west.tilt_deg": 35,
            "planes.1.azimuth_deg": 95.5,
            "site.albedo": 0.3,
            "notes": "steeper",
            "wirings.plain.trackers.0.strings.1.groups.0.modules": 11,
        },
    )
    assert other.planes[0].tilt_deg == 35.0
    assert other.planes[1].azimuth_deg == 95.5
    assert other.site.albedo == 0.3
    assert other.notes == "steeper"
    assert other.wirings[0].trackers[0].strings[1].groups[0].modules == 11
    assert SITE.model_dump() == before


def test_a_change_leaves_the_content_it_starts_from():
    content = mapping()
    other = changed(content, {"planes.west.tilt_deg": 35, "site.name": "other"})
    assert content == mapping()
    assert other["planes"][0]["tilt_deg"] == 35
    assert other["site"]["name"] == "other"


def test_a_written_site_leaves_out_what_equals_the_default():
    site = SITE.variant({"site.albedo": 0.2, "planes.west.soiling_loss_percent": 0.0})
    assert "albedo" not in dump_site(site)
    assert "soiling" not in dump_site(site)
    assert "albedo: 0.25" in dump_site(SITE.variant({"site.albedo": 0.25}))


def test_a_variant_takes_models_and_keeps_the_folder(tmp_path):
    file = tmp_path / "site.yaml"
    file.write_text(TEXT, encoding="utf-8")
    site = load_site(file)
    other = site.variant({"planes": [site.planes[1], site.planes[0]]})
    assert [plane.name for plane in other.planes] == ["east", "west"]
    assert other.folder == str(tmp_path)


def test_a_variant_still_finds_the_weather_beside_its_file(tmp_path):
    (tmp_path / "sun.csv").write_text("x\n")
    file = tmp_path / "site.yaml"
    file.write_text(TEXT.replace("typical-year-45n-8e", "sun.csv"), encoding="utf-8")
    other = load_site(file).variant({"site.albedo": 0.3})
    assert (other.weather.file, other.folder) == ("sun.csv", str(tmp_path))
    with pytest.raises(InputError, match=r"variant, weather\.file: got 'rain\.csv', which is not"):
        other.variant({"weather.file": "rain.csv"})


@pytest.mark.parametrize(
    ("changes", "wanted"),
    [
        ({"planes.wset.tilt_deg": 3}, "change of 'planes.wset.tilt_deg': got the key 'wset'; exp"),
        ({"planes.wset.tilt_deg": 3}, "expected one of 'west', 'east'. Did you mean 'west'?"),
        ({"planes.9.tilt_deg": 3}, "got the key '9'; expected one of 'west', 'east'"),
        ({"site.albdo": 3}, "got the key 'albdo'; expected one of 'name', 'latitude'"),
        ({"site.albedo.x": 3}, "got a path through 0.2; expected a path of keys"),
        ({"planes.west.horizon.3": 3}, "got the key '3'; expected an entry of the list"),
        ({"planes.west.tilt_deg": 200}, "variant, planes.0.tilt_deg: got 200; expected degrees"),
        ({"planes.west.modules": 20}, "got 24 modules of plane 'west' wired in 'plain'; expected"),
        ({"colours": 20}, "got the key 'colours'; expected one of 'schema_version'"),
    ],
)
def test_a_variant_is_checked_as_a_whole(changes, wanted):
    with pytest.raises(InputError, match="expected") as caught:
        SITE.variant(changes)
    assert wanted in str(caught.value)


def test_nothing_edits_a_site():
    with pytest.raises(ValidationError, match="frozen"):
        SITE.notes = "x"
    with pytest.raises(ValidationError, match="frozen"):
        SITE.planes[0].tilt_deg = 3.0
    assert isinstance(SITE.planes, tuple)
    assert hash(SITE) == hash(site_from_mapping(mapping()))


def test_the_shipped_sites_are_sound_and_survive_being_written():
    demo = load_site()
    assert demo.invented
    assert len(demo.wirings) == 4
    assert load_site(shipped("site_configs", "demo.yaml")) == demo
    assert read_site_text(dump_site(demo), folder=demo.folder) == demo
    starter = read_site_text(new_site_text())
    assert read_site_text(dump_site(starter)) == starter


_WORDS = st.text(min_size=1, max_size=40).filter(lambda text: text.strip() == text)


@given(_WORDS, _WORDS, st.floats(0.0, 1.0), st.just(0) | st.integers(1, 2 * 10**6))
def test_whatever_is_sound_survives_being_written(name, station, albedo, load):
    changed = mapping() | {
        "site": mapping()["site"]
        | {"name": name, "albedo": albedo, "design_temperatures": {"station": station}},
        "grid": {"load_w": load},
    }
    if any(steers(sign) for sign in name + station):
        assert "expected text without control signs" in str(refusal(changed))
        return
    site = site_from_mapping(changed)
    assert read_site_text(dump_site(site)) == site


def test_a_name_like_a_key_or_a_value_survives():
    for name in (
        "<<",
        "no",
        "12",
        "1e3",
        "~",
        "- x",
        "a: b",
        "#",
        "&a",
        "*a",
        "!t",
        "%",
        "2001-01-01",
    ):
        site = SITE.variant({"site.name": name})
        assert read_site_text(dump_site(site)) == site


def test_a_written_site_needs_no_reader_but_ours():
    assert "<<" not in dump_site(SITE)
    assert sentence(dump_site(SITE) + "notes: 3\n").startswith("site file line")
