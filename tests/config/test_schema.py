"""The schema and the models tell the same story, and the words of choice are the physics'."""

import json
import re
from typing import get_args

import jsonschema
import pytest

from tests.config.dumped import dump_site
from tests.config.small import mapping, with_changes
from yieldkit.base.shipped import shipped
from yieldkit.config.models.planes import Plane
from yieldkit.config.models.weather_source import WeatherSource
from yieldkit.config.reading.content import from_mapping
from yieldkit.config.reading.meanings import meanings
from yieldkit.config.reading.schema_walk import Schema
from yieldkit.config.reading.yaml import parse_yaml
from yieldkit.config.site.files import load_site, new_site_text, read_site_text, schema
from yieldkit.config.site.site import ModelChoices, Site
from yieldkit.design.checks.grid_profiles import grid_profiles
from yieldkit.design.standards import standard_table
from yieldkit.physics.irradiance import sky
from yieldkit.physics.module import temperature as heat
from yieldkit.weather.readers.read import READERS

SCHEMA = Schema(Site)
meaning, owner, allowed_at = SCHEMA.meaning, SCHEMA.owner, SCHEMA.allowed_at
models, places_of = SCHEMA.models, SCHEMA.places_of
_OPTIONAL = re.compile(r"(?m)^(\s*)# (?=(?:  )*(?:- \{)?[a-z_0-9]+:)")
"""A line of the starting file that is data behind a comment sign."""


def listed(content):
    """Return plain content with lists for tuples, as JSON has them."""
    if isinstance(content, dict):
        return {key: listed(each) for key, each in content.items() if each is not None}
    return [listed(each) for each in content] if isinstance(content, list | tuple) else content


def refused(content):
    """Return whether the JSON schema refuses content."""
    return not jsonschema.Draft202012Validator(schema()).is_valid(listed(content))


def test_the_schema_is_a_sound_schema():
    jsonschema.Draft202012Validator.check_schema(schema())
    assert "folder" not in schema()["properties"]


def test_the_shipped_schema_is_in_step():
    text = shipped("site_configs", "site-schema.json").read_text(encoding="utf-8")
    assert json.loads(text) == schema(), "run: yieldkit schema > site_configs/site-schema.json"


def test_every_field_is_described():
    lacking = [
        f"{model.__name__}.{name}"
        for model in models()
        for name in model.model_fields
        if not meanings(model).get(name, "").endswith((".", ")"))
    ]
    assert lacking == []
    told = schema()
    for name, part in {"Site": told, **told["$defs"]}.items():
        for key, field in part.get("properties", {}).items():
            assert field["description"], f"{name}.{key}"
    assert len(models()) >= 30


def test_every_key_with_a_unit_in_its_name_says_the_unit():
    units = {
        "_v": "[V]",
        "_a": "[A]",
        "_w": "[W]",
        "_va": "[VA]",
        "length_m": "[m]",
        "width_m": "[m]",
        "altitude_m": "[m]",
        "above_m": "[m]",
        "height_m": "[m]",
        "_mm2": "[mm2]",
        "_s": "[s]",
        "_ohm": "[ohm]",
        "_c": "[degC]",
        "_k": "[K]",
        "_percent": "[%]",
    }
    lacking = [
        f"{model.__name__}.{name} lacks {unit}"
        for model in models()
        for name in model.model_fields
        for ending, unit in units.items()
        if name.endswith(ending) and unit not in meanings(model)[name]
    ]
    assert lacking == []


def test_the_schema_takes_what_the_models_take():
    assert not refused(mapping())
    for name in ("demo.yaml", "starter.yaml"):
        text = shipped("site_configs", name).read_text(encoding="utf-8")
        assert not refused(parse_yaml(text, name).values)
        assert text.startswith("# yaml-language-server: $schema=site-schema.json\n")
    assert not refused(parse_yaml(dump_site(load_site()), "dump").values)


@pytest.mark.parametrize(
    "changes",
    [
        {"planes__west__tilt_deg": 200},
        {"planes__west__azimuth_deg": -90},
        {"planes__west__modules": 1.5},
        {"planes__west__mounting": "floating"},
        {"site__latitude": "52"},
        {"schema_version": 2},
        {"schema_version": 3},
        {"wirings": []},
        {"inverter__ac__phases": 2},
        {"inverter__efficiency__kind": "x"},
        {"module_types__M540__source": "x"},
        {"module_types__M540__beta_voc": -0.28},
    ],
)
def test_the_schema_refuses_what_the_models_refuse(changes):
    assert refused(with_changes(**changes))
    assert refused(mapping() | {"unknown": 1})


def test_choices_are_the_words_of_the_physics():
    words = {
        name: set(get_args(field.annotation))
        for name, field in ModelChoices.model_fields.items()
        if field.annotation is not float
    }
    assert words == {
        "decomposition": set(sky.DECOMPOSITION),
        "transposition": set(sky.TRANSPOSITION),
        "incidence": set(sky.INCIDENCE),
    }
    assert set(get_args(Plane.model_fields["mounting"].annotation)) == set(heat.MOUNTING)
    assert set(get_args(WeatherSource.model_fields["format"].annotation)) == set(READERS)


def test_rule_profiles_are_those_of_the_data():
    strings = set(allowed_at(("standards", "strings")))
    assert strings == set(standard_table("string_rules")["profile"])
    assert load_site().grid.profile in grid_profiles()


def test_the_file_to_start_from_is_sound_as_it_stands_and_filled_in():
    text = new_site_text()
    site = read_site_text(text)
    assert site.site.design_temperatures.lowest_ambient_c is None
    filled, count = _OPTIONAL.subn(r"\1", text)
    assert count > 40
    full = read_site_text(filled)
    assert full.site.design_temperatures.lowest_ambient_c == -14.0
    assert full.grid.profile in grid_profiles()
    assert len(full.inverter.derating) == 2


def test_the_file_to_start_from_names_every_section():
    text = new_site_text()
    assert [name for name in schema()["properties"] if f"{name}:" not in text] == ["models"]


def test_meanings_are_found_by_location():
    assert owner(("planes", 0, "tilt_deg")) is Plane
    assert owner(("planes", 0, "x", "y")) is None
    assert owner(("nowhere", "x")) is None
    assert meaning(("inverter", "efficiency", "table", "loads")).startswith("AC power over nominal")
    assert meaning(("module_types", 0, "datasheet", "power_matrix", 3, "power_w")).startswith("Max")
    assert meaning(("inverter", "efficiency", "table", "values", 2, 1)).startswith(
        "Efficiencies as"
    )
    assert meaning(("nowhere",)) == ""
    assert allowed_at(("nowhere", 1)) == ()
    assert places_of()["tilt_deg"] == ("planes", "obstacles", "weather.sensors")
    assert places_of()["schema_version"] == ("",)
    assert Site in models()
    assert from_mapping({"a": [1]}, "x").where(("a", 0)) == "x, a.0"
