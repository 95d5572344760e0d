"""No key is dead: each, changed alone, changes a finding, a number or a sentence, or is proven."""

import copy
import json
from datetime import date
from functools import cache, cached_property
from typing import Literal, get_args, get_origin

import matplotlib.pyplot as plt
import numpy as np
import pandas as pd
import pytest
from pydantic import BaseModel

from tests.design.shaded import CHIMNEY, PORCH, TREE, light_of, shaded_site
from tests.study import every_key_sites
from tests.study.every_key_trials import PROVEN_BELOW, TRIALS
from tests.weather.minutes import as_file, cloudy
from yieldkit.base.errors import InputError
from yieldkit.config.reading.schema_walk import Schema
from yieldkit.config.site.files import load_site, site_from_mapping
from yieldkit.config.site.site import Site
from yieldkit.design.checks.limits import check, every_allowed_length
from yieldkit.design.roof.layout import string_layout
from yieldkit.design.roof.scene import plane_scenes
from yieldkit.report.figures.wall import wall_pictures
from yieldkit.report.offer.logo import logo_source
from yieldkit.report.offer.overdue import overdue
from yieldkit.report.tables.html import verdict_box
from yieldkit.report.tables.terminal_choice import choice_text
from yieldkit.study.comparison.compare import compare
from yieldkit.study.estimate.ageing import aged
from yieldkit.study.estimate.money import (
    cash_flows,
    levelised_cost,
    net_present_value,
    sales,
    savings,
)
from yieldkit.study.estimate.offer import (
    assumption_rows,
    offer_attributes,
    terms_of,
)
from yieldkit.study.estimate.tariff_hours import periods_of
from yieldkit.study.estimate.terms import terms_told
from yieldkit.study.several_inverters.choice import choose
from yieldkit.study.simulation.prepare import prepare
from yieldkit.study.simulation.simulate import simulate_prepared
from yieldkit.study.simulation.snow import plane_snow
from yieldkit.study.simulation.trackers import Solutions
from yieldkit.study.simulation.weather import site_weather

pytestmark = pytest.mark.slow

PNG, PNG_END = b"\x89PNG\r\n\x1a\n", b"IEND\xaeB`\x82"


class Seen:
    """What a site's outputs say: findings, lengths and layout first, then a simulation."""

    def __init__(self, content, folder):
        self.site = site_from_mapping(content, folder=folder)

    @cached_property
    def cheap(self):
        """Return findings, allowed lengths and the layout as text."""
        said = [repr(tuple(check(self.site, each))) for each in self.site.wirings]
        said.append(every_allowed_length(self.site).to_csv())
        said.append(repr(string_layout(self.site, self.site.wirings[0])))
        return said

    @cached_property
    def dear(self):
        """Return the assumptions and the numbers of a simulation, without hashes."""
        weather, period = _weather_of(self.site)
        prepared = prepare(self.site, weather, period)
        result = simulate_prepared(prepared, self.site.wirings[0], Solutions())
        attrs = {k: v for k, v in result.attrs.items() if not k.endswith("sha256")}
        numbers = {name: result[name].to_numpy().tolist() for name in result.variables}
        about = {k: v for k, v in prepared.weather.attrs.items() if k != "sha256"}
        return repr((prepared.assumptions, numbers, attrs, about))

    @cached_property
    def wall(self):
        """Return what the report's sketch of the wall says."""
        pictures = wall_pictures(self.site)
        plt.close("all")
        return [picture.alt for picture in pictures]


_READ = {}


def _weather_of(site):
    """Read weather once for all sites that ask for the same of the same place."""
    key = repr((site.folder, site.weather, site.site, site.models.decomposition))
    if key not in _READ:
        weather = site_weather(site)
        _READ[key] = weather, prepare(site, weather).period
    return _READ[key]


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Return a folder with two days of weather and of network voltage."""
    place = tmp_path_factory.mktemp("every_key")
    every_key_sites.filled(place)
    return place


def base(content, folder):
    """Return what a base says, computed now: its own refusal is no effect of a key."""
    seen = Seen(content, folder)
    assert seen.cheap
    assert seen.dear
    return seen


@cache
def sites_and_rows(folder):
    """Return each base with what it says, and other rows of the bundled lists."""
    sites, listed = every_key_sites.bases()
    return {name: (content, base(content, folder)) for name, content in sites.items()}, listed


def leaves(model, path=()):
    """Yield owner, key, path and value of every key of a site that holds no further keys."""
    for name in type(model).model_fields:
        value, here = getattr(model, name), (*path, name)
        if name == "folder":
            continue
        if isinstance(value, BaseModel):
            yield from leaves(value, here)
        elif isinstance(value, tuple) and value and isinstance(value[0], BaseModel):
            for number, each in enumerate(value):
                yield from leaves(each, (*here, number))
        else:
            yield type(model).__name__, name, here, value


def holds_keys(annotation):
    """Return whether a field holds further keys."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return True
    return any(holds_keys(each) for each in get_args(annotation))


def schema_keys():
    """Return every key of the schema that holds no further keys, by its model's name."""
    return {
        (model.__name__, key): field
        for model in Schema(Site).models()
        for key, field in model.model_fields.items()
        if key != "folder" and not holds_keys(field.annotation)
    }


KEYS = schema_keys()


def words(annotation):
    """Return the words of choice of a field."""
    kinds = (annotation, *get_args(annotation))
    return [word for kind in kinds if get_origin(kind) is Literal for word in get_args(kind)]


def others(name, value):
    """Return other values that a key might have."""
    found = [word for word in words(KEYS[name].annotation) if word != value]
    if found:
        return found
    if isinstance(value, bool):
        return [not value]
    if isinstance(value, int):
        return [value + 1]
    if isinstance(value, float):
        return [value * 1.02 if value else 1.0]
    return [value + " too"] if isinstance(value, str) else []


def renamed(content, old, new):
    """Return content with a name replaced wherever it stands alone."""
    if isinstance(content, dict):
        return {key: renamed(each, old, new) for key, each in content.items()}
    if isinstance(content, list):
        return [renamed(each, old, new) for each in content]
    return new if content == old else content


def changed(content, path, value, other):
    """Return content with another value of one key, or with the changes a trial names."""
    if isinstance(other, dict):
        return every_key_sites.edited(content, other)
    if path[-1] == "name":
        return renamed(copy.deepcopy(content), value, other)
    return every_key_sites.edited(content, {".".join(map(str, path)): other})


def shows(content, before, path, value, other, folder):
    """Return whether a site with another value of a key says anything else.

    A value that is refused shows nothing, and must be refused by the key's name or its word.
    """
    try:
        after = Seen(changed(content, path, value, other), folder)
        if after.cheap != before.cheap:
            return True
        # The wall is looked at in a sketch only.
        return after.wall != before.wall if "wall" in path else after.dear != before.dear
    except InputError as error:
        if path[-1] not in str(error) and not (isinstance(other, str) and other in str(error)):
            raise AssertionError(f"{path} = {other!r} is refused without its name") from error
        return False


def alive(name, folder):
    """Return whether a key shows on any base, and the trials made."""
    bases, listed = sites_and_rows(folder)
    tried = []
    for site, (content, before) in bases.items():
        for owner, key, path, value in leaves(before.site):
            if (owner, key) != name:
                continue
            for other in listed.get(name) or TRIALS.get(name) or others(name, value):
                tried.append((site, path, value, other))
                if shows(content, before, path, value, other, folder):
                    return True, tried
    return False, tried


@pytest.mark.parametrize(("owner", "key"), sorted(KEYS.keys() - PROVEN_BELOW.keys()))
def test_changes_a_finding_a_number_or_a_sentence(owner, key, folder):
    live, tried = alive((owner, key), folder)
    assert tried, f"{owner}.{key}: no site states it or no other value is known"
    assert live, f"{owner}.{key} is dead: {tried}"


def test_every_exemption_has_its_proof():
    assert set(PROVEN_BELOW) <= set(KEYS)
    assert set(PROVEN_BELOW.values()) <= set(globals())


def test_a_site_that_is_not_changed_shows_nothing(folder):
    for content, before in sites_and_rows(folder)[0].values():
        name = before.site.site.name
        assert not shows(content, before, ("site", "name"), name, name, folder)


def test_a_base_without_its_weather_fails(folder):
    content = sites_and_rows(folder)[0]["datasheet"][0]
    with pytest.raises(InputError, match=r"nowhere\.csv"):
        base(every_key_sites.edited(content, {"weather.file": "nowhere.csv"}), folder)


def test_a_value_refused_without_its_key_is_no_effect(folder):
    content, before = sites_and_rows(folder)[0]["datasheet"]
    elsewhere = {"grid.lead.cross_section_mm2": 11.0}
    with pytest.raises(AssertionError, match="refused without its name"):
        shows(content, before, ("site", "albedo"), 0.2, elsewhere, folder)


def test_another_version_is_refused(folder):
    content = sites_and_rows(folder)[0]["datasheet"][0]
    with pytest.raises(InputError, match="schema_version: got 3; expected one of 1, 2"):
        Seen(every_key_sites.edited(content, {"schema_version": 3}), folder)
    with pytest.raises(InputError, match="inverter: got inverter in schema_version 2; expected"):
        Seen(every_key_sites.edited(content, {"schema_version": 2}), folder)


@pytest.mark.parametrize(
    ("site", "path"),
    [
        ("datasheet", "module_types.0.source"),
        ("listed module", "module_types.0.source"),
        ("datasheet", "inverter.efficiency.kind"),
        ("listed module", "inverter.efficiency.kind"),
        ("listed inverter", "inverter.efficiency.kind"),
    ],
)
def test_the_kind_of_an_entry_decides_how_it_is_read(site, path, folder):
    content = sites_and_rows(folder)[0][site][0]
    with pytest.raises(InputError, match=f"{path}: got 'another'"):
        Seen(every_key_sites.edited(content, {path: "another"}), folder)


def test_a_price_is_told_where_inverters_are_chosen():
    own = load_site().variant({"inverter.price": {"amount": 1234.5, "currency": "EUR"}})
    some = site_weather(own)
    found = choose(own, 1, weather=some.isel(time=slice(3600, 3650)).assign_attrs(some.attrs))
    assert found.table["price"].tolist() == [1234.5]
    assert "EUR" in choice_text(found, 1)
    assert "1,234.50" in choice_text(found, 1)


def test_an_invented_building_is_called_so(folder):
    content, before = sites_and_rows(folder)[0]["listed inverter"]
    own = Seen(every_key_sites.edited(content, {"invented": False}), folder)
    weather, _ = _weather_of(before.site)
    said = "Building and equipment are invented."
    assert said in str(verdict_box(compare(before.site, weather=weather)))
    assert said not in str(verdict_box(compare(own.site, weather=weather)))


def test_snow_slides_where_it_is_warm_enough():
    days = site_weather(load_site()).isel(time=slice(24 * 10, 24 * 12))
    fallen = np.zeros(48)
    fallen[5] = 4.0
    cold = days["temp_air"].copy(data=np.full(48, -6.0))
    days = days.assign(snowfall=("time", fallen), temp_air=cold)

    def lies(above):
        snow = {"kind": "from-snowfall", "frost_light_w_m2": above}
        site = load_site().variant({"site.snow": snow})
        return plane_snow(site, site.planes[0], days, np.full(48, 500.0)).covered

    assert (lies(100.0)[5:] == 1.0).all()
    assert lies(50.0)[20] < 0.5


def test_a_clock_far_from_the_sun_is_asked_for(folder):
    content = sites_and_rows(folder)[0]["datasheet"][0]
    far = {"site.time_zone": "UTC+09:00"}
    with pytest.raises(InputError, match="write unusual_time_zone: true"):
        Seen(every_key_sites.edited(content, far), folder)
    meant = Seen(every_key_sites.edited(content, far | {"site.unusual_time_zone": True}), folder)
    assert meant.site.site.utc_offset_s == 9 * 3600


def weather_with(content, folder, **changes):
    """Return the weather of a site with other words in its weather block."""
    paths = {f"weather.{key}": value for key, value in changes.items()}
    return site_weather(Seen(every_key_sites.edited(content, paths), folder).site)


def test_the_format_says_how_a_file_is_read(folder):
    content, before = sites_and_rows(folder)[0]["datasheet"]
    pd.read_csv(folder / "days.csv").to_parquet(folder / "days.parquet")
    found = weather_with(content, folder, file="days.parquet", format="parquet")
    np.testing.assert_allclose(found["ghi"], _weather_of(before.site)[0]["ghi"], rtol=1e-12)
    with pytest.raises(InputError, match=r"days\.csv"):
        weather_with(content, folder, format="epw")


def test_which_column_holds_the_time_of_day_is_asked_for(folder):
    content = sites_and_rows(folder)[0]["datasheet"][0]
    frame = pd.read_csv(folder / "days.csv", parse_dates=["when"])
    frame.insert(1, "sent", frame["when"].dt.strftime("%H:%M"))
    frame.insert(2, "received", (frame["when"] + pd.Timedelta("10min")).dt.strftime("%H:%M"))
    frame.assign(when=frame["when"].dt.date).to_csv(folder / "apart.csv", index=False)
    said = {"file": "apart.csv", "columns": every_key_sites.COLUMNS | {"clock": "sent"}}
    whole = weather_with(content, folder)
    assert weather_with(content, folder, **said).indexes["time"].equals(whole.indexes["time"])
    said["columns"] = every_key_sites.COLUMNS | {"clock": "received"}
    later = whole.indexes["time"] + pd.Timedelta("10min")
    assert weather_with(content, folder, **said).indexes["time"].equals(later)
    with pytest.raises(InputError, match="Do the others stand in 'sent' or 'received'"):
        weather_with(content, folder, file="apart.csv")


def test_dates_that_may_be_read_two_ways_are_asked_for(folder):
    content = sites_and_rows(folder)[0]["listed inverter"][0]
    assert str(weather_with(content, folder)["time"].to_numpy()[12])[5:10] == "06-05"
    with pytest.raises(InputError, match="date_format"):
        weather_with(content, folder, date_format=None)


def test_decimals_that_may_be_thousands_are_asked_for(folder):
    content = sites_and_rows(folder)[0]["datasheet"][0]
    frame = pd.read_csv(folder / "days.csv")
    columns = [
        each for each in every_key_sites.COLUMNS.values() if each not in ("when", "pressure")
    ]
    for column in columns:  # "0" and "12,345", never "0,345", which could be no thousands
        text = frame[column].map(lambda value: f"{value:.3f}".replace(".", ","))
        frame[column] = text.where(frame[column] >= 1.0, "0")
    frame[["when", *columns]].to_csv(folder / "three.csv", index=False, sep=";")
    said = {"file": "three.csv", "columns": every_key_sites.COLUMNS | {"pressure": None}}
    found = weather_with(content, folder, **said, decimal=",")
    np.testing.assert_allclose(found["ghi"], weather_with(content, folder)["ghi"], atol=1.0)
    with pytest.raises(InputError, match="which may be a decimal or thousands"):
        weather_with(content, folder, **said)


def test_signs_that_nothing_tells_are_asked_for(folder):
    content = sites_and_rows(folder)[0]["listed inverter"][0]
    text = (folder / "decimals.csv").read_text(encoding="cp1252")
    (folder / "wide.csv").write_text(text, encoding="utf-16-le")
    found = weather_with(content, folder, file="wide.csv", encoding="utf-16-le")
    np.testing.assert_array_equal(found["ghi"], weather_with(content, folder)["ghi"])
    with pytest.raises(InputError, match="Write encoding"):
        weather_with(content, folder, file="wide.csv", encoding=None)


def test_each_key_of_an_obstacle_changes_what_modules_get():
    def seen(*obstacles, **changes):
        site = shaded_site(*obstacles, **changes)
        light = [each and each.darkest.tolist() for each in light_of(site)]
        return repr((light, [each and each.names for each in plane_scenes(site)]))

    moved = {"foot_m": [-0.3, 5.2, 5.0], "corner_m": [-3.0, -4.0, 6.8]}
    for owner, body in (("Box", CHIMNEY), ("Cylinder", TREE), ("RoofSlope", PORCH)):
        before = seen(body)
        for key, value in body.items():
            other = moved.get(key, value * 1.1 if isinstance(value, float) else f"another {value}")
            if key == "foot_m" and owner == "Cylinder":
                other = [-11.0, 3.4, 0.0]
            if key == "transmittance_by_month":
                other = [0.16] * 12
            if key != "shape":
                assert seen(body | {key: other}) != before, (owner, key)
    assert seen(CHIMNEY | {"transmittance": 0.2}) != seen(CHIMNEY)
    assert seen(CHIMNEY, **{"planes.0.corner_m": [-6.1, 10.2, 4.0]}) != seen(CHIMNEY)
    with pytest.raises(InputError, match="got 'ball'; expected one of 'box', 'cylinder', 'roof'"):
        seen(CHIMNEY | {"shape": "ball"})


def test_each_key_below_the_hour_changes_what_is_drawn(folder):
    content = sites_and_rows(folder)[0]["datasheet"][0]
    minutes = cloudy(12)
    as_file(minutes, folder / "minutes.csv")
    local = minutes.index.tz_convert(None).strftime("%Y-%m-%d %H:%M")
    table = minutes.round(2).assign(when=local)
    table.to_csv(folder / "minutes_table.csv", index=False)
    table.to_parquet(folder / "minutes.parquet")
    columns = {name: name for name in ("ghi", "dni", "dhi", "temp_air")} | {"time": "when"}

    def drawn(changes=None, **asked):
        within = {"weather.within_hour": asked, **(changes or {})}
        site = site_from_mapping(every_key_sites.edited(content, within), folder=folder)
        snapshot = (changes or {}).get("weather.sampling") == "snapshot"
        weather = as_snapshots if snapshot else means
        hidden = prepare(site, weather, period).within
        rows = hidden.minutes
        return hidden.said, None if rows is None else rows.conditions.photocurrent.tobytes()

    means, period = _weather_of(sites_and_rows(folder)[0]["datasheet"][1].site)
    as_snapshots = means.assign_attrs(sampling="snapshot", sun_offset_s=1800.0)
    own = {
        "file": "minutes_table.csv",
        "format": "csv",
        "columns": columns,
        "zone": "UTC+00:00",
        "label": "start",
        "latitude": 47.0,
        "longitude": 8.0,
        "altitude_m": 450.0,
    }
    assert drawn(seed=2) != drawn(seed=1)
    before = drawn(minutes=own)
    assert before != drawn()
    for key, value in {
        "file": "minutes.parquet",
        "label": "end",
        "latitude": 46.0,
        "longitude": 7.0,
        "altitude_m": 2000.0,
        "format": "canonical",
    }.items():
        changed = own | {key: value}
        if key == "file":
            changed["format"] = "parquet"
        if key == "format":
            with pytest.raises(InputError, match="another first line"):
                drawn(minutes=changed)
            continue
        assert drawn(minutes=changed) != before, key
    with pytest.raises(InputError, match="close -60 minutes"):
        drawn(minutes=own | {"zone": "UTC-01:00"})
    same = drawn(minutes={"file": "minutes.csv", "format": "canonical"})
    assert same != drawn()
    snapshots = {"weather.sampling": "snapshot", "weather.label": None}
    assert drawn(snapshots, smoothed_over_min=5) != drawn(snapshots)
    assert drawn(snapshots, smoothed_over_min=5) != drawn(snapshots, smoothed_over_min=20)


def test_each_key_of_an_estimate_counts_or_is_told(folder):
    content = sites_and_rows(folder)[0]["datasheet"][0]
    stated = {
        "ageing": {"power_loss_percent_per_year": 0.6, "source": "a warranty (invented)"},
        "year_to_year": {"spread_percent": 4.0, "source": "a record (invented)"},
    }

    def said(**changes):
        site = Seen(
            every_key_sites.edited(content, {"estimate": copy.deepcopy(stated), **changes}), folder
        ).site
        planes = aged(site, 10.0).planes
        return [plane.power_deviation_percent for plane in planes], terms_told(site)

    for path, other in {
        "ageing.power_loss_percent_per_year": 0.7,
        "ageing.spread_percent_per_year": 0.3,
        "ageing.course": "compound",
        "ageing.source": "another",
        "years": 20,
        "outages_percent_by_month": [1.0] * 12,
        "year_to_year.spread_percent": 5.0,
        "year_to_year.source": "another",
    }.items():
        assert said(**{f"estimate.{path}": other}) != said(), path
    assert said(**{"estimate.ageing.course": "compound"})[0] != said()[0]
    for block, key in (
        ("ageing", "power_loss_percent_per_year"),
        ("year_to_year", "spread_percent"),
    ):
        with pytest.raises(InputError, match=f"estimate.{block}.{key}: got .* without a source"):
            said(**{f"estimate.{block}.source": None})


WORKDAYS = ["mon", "tue", "wed", "thu", "fri"]
JUNE, OTHERS = [6], [1, 2, 3, 4, 5, 7, 8, 9, 10, 11, 12]
OFFER = {
    "currency": "EUR",
    "outlay": 20_000.0,
    "zone": "Europe/Berlin",
    "purchase": {"price_per_kwh": 0.3},
    "feed_in": {
        "periods": [
            {"name": "low", "price_per_kwh": 0.02, "months": JUNE, "days": ["sun"]},
            {"name": "sundays", "price_per_kwh": 0.08, "months": JUNE, "days": ["sun"]},
            {"name": "june", "price_per_kwh": 0.07, "months": JUNE, "days": [*WORKDAYS, "sat"]},
            {"name": "other", "price_per_kwh": 0.09, "months": OTHERS},
        ]
    },
    "running_costs_per_year": 150.0,
    "replacements": [{"what": "inverter", "after_year": 13, "cost": 2000.0}],
    "growth": {"purchase_percent": 2.0, "feed_in_percent": 1.0, "costs_percent": 3.0},
    "discount": {"rate_percent": 4.0, "kind": "real", "inflation_percent": 2.0},
    "tax": {"rate_percent": 25.0, "written_off_over_years": 20},
}
OFFER["feed_in"]["periods"][0]["hours"] = [[9, 15]]
OFFER["feed_in"]["periods"][1]["hours"] = [[0, 9], [15, 24]]


def test_each_key_of_an_offers_money_counts():
    site = load_site().variant({"grid.load_w": 300.0, "offer": OFFER})
    # Eight days, and an hour more of a Saturday than of a Sunday by the clock on the wall.
    year = site_weather(site).isel(time=slice(24 * 151, 24 * 159))

    def counted(**changes):
        own = site.variant({f"offer.{path}": value for path, value in changes.items()})
        terms = terms_of(own)
        feed_in = periods_of(own, own.offer.feed_in)
        export = feed_in.shares(year).sum(axis=0)[None].repeat(25, axis=0)
        saved = savings(terms, np.full((25, 1), 2000.0), np.zeros(1))
        flows = cash_flows(terms, saved, sales(terms, export))
        cost = levelised_cost(terms, np.full(25, 9000.0))
        return net_present_value(flows, terms.rate), cost, assumption_rows(own)

    before = counted()
    numbers = {
        "outlay": 21_000.0,
        "zone": "America/New_York",
        "running_costs_per_year": 160.0,
        "purchase.price_per_kwh": 0.31,
        "feed_in.periods.0.price_per_kwh": 0.03,
        "replacements.0.after_year": 14,
        "replacements.0.cost": 2100.0,
        "growth.purchase_percent": 2.5,
        "growth.feed_in_percent": 1.5,
        "growth.costs_percent": 3.5,
        "discount.rate_percent": 5.0,
        "discount.inflation_percent": 2.5,
        "discount": {"rate_percent": 4.0, "kind": "nominal"},
        "tax.rate_percent": 26.0,
        "tax.written_off_over_years": 21,
        "tax.on_self_use": True,
    }
    for path, other in numbers.items():
        assert counted(**{path: other})[0] != before[0], path
    periods = {
        "months": {"0.months": [7], "1.months": [7], "2.months": [7]},
        "days": {"0.days": ["sat"], "1.days": ["sat"]},
        "hours": {"0.hours": [[10, 15]], "1.hours": [[0, 10], [15, 24]]},
    }
    periods["months"]["3.months"] = [1, 2, 3, 4, 5, 6, 8, 9, 10, 11, 12]
    periods["days"]["2.days"] = [*WORKDAYS, "sun"]
    for key, changes in periods.items():
        own = {f"feed_in.periods.{path}": value for path, value in changes.items()}
        assert counted(**own)[0] != before[0], key
    words = {"currency": "CHF", "replacements.0.what": "fan", "feed_in.periods.0.name": "noon"}
    for path, other in words.items():
        assert counted(**{path: other})[2] != before[2], path


def test_each_key_of_an_offers_pages_is_carried_to_them(tmp_path):
    party = {"name": "Roofs (invented)", "lines": ["1 Street"]}
    for name in ("one.png", "other.png"):
        (tmp_path / name).write_bytes(PNG + name.encode() + PNG_END)
    content = load_site().model_dump(exclude={"folder"})

    def carried(**changes):
        said = {"company": party, "logo_file": "one.png", "date": "2026-03-01"} | changes
        own = site_from_mapping(content | {"offer": said}, folder=tmp_path)
        today = date(2026, 3, 1)
        pages = json.loads(offer_attributes(own)["offer"])
        return pages, logo_source(own), tuple(overdue(own.offer, today))

    before = carried()
    for key, other in {
        "language": "fr",
        "number_format": "1 234,5",
        "number": "7",
        "company": party | {"name": "Others (invented)"},
        "customer": party,
    }.items():
        assert carried(**{key: other})[0] != before[0], key
    assert carried(company=party | {"lines": []})[0] != before[0]
    assert carried(logo_file="other.png")[1] != before[1]
    assert before[2] == ()
    assert "offer.date is 2026-02-28" in carried(date="2026-02-28")[2][0]
    assert "offer.valid_until is 2026-02-28" in carried(date=None, valid_until="2026-02-28")[2][0]
    assert carried(valid_until="2026-03-01")[2] == ()


def test_a_horizon_file_hides_what_it_holds(folder):
    (folder / "far.csv").write_text("azimuth_deg,elevation_deg\n10,4\n200,30\n")
    content, before = sites_and_rows(folder)[0]["listed inverter"]
    after = Seen(every_key_sites.edited(content, {"site.horizon_file": "far.csv"}), folder)
    points = after.site.site.horizon
    assert [(each.azimuth_deg, each.elevation_deg) for each in points] == [(10, 4), (200, 30)]
    assert after.dear != before.dear
