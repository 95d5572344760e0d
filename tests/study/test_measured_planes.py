"""Light and temperature measured on planes, in place of what is modelled."""

import numpy as np
import pytest

from tests.design.shaded import CHIMNEY, CORNERS
from tests.study.checks import budget
from tests.study.sites import demo, variant, weather
from yieldkit.base.errors import InputError
from yieldkit.base.measured_planes import measured_name
from yieldkit.physics.irradiance.sky import effective_irradiance, incidence_modifiers
from yieldkit.study.simulation.measured import measured_remark
from yieldkit.study.simulation.plane_light import light_components, plane_light
from yieldkit.study.simulation.prepare import prepare
from yieldkit.study.simulation.simulate import simulate
from yieldkit.study.simulation.station import sun_place
from yieldkit.study.simulation.under_sky import sky_over
from yieldkit.study.uncertainty.drawn_weather import drawable

PLANES = ("west roof", "east roof", "dormer")


def with_columns(days, **columns):
    """Return weather with columns of planes: a quantity to values (time, plane) or by plane."""
    found = {}
    for quantity, by_plane in columns.items():
        for plane, values in by_plane.items():
            found[measured_name(quantity, plane)] = ("time", np.asarray(values), {"plane": plane})
    return days.assign(found)


def by_plane(values, planes=PLANES):
    """Return columns (time, plane) of a result by plane."""
    return {plane: values.sel(plane=plane).to_numpy() for plane in planes}


@pytest.fixture(scope="module")
def days():
    return weather().isel(time=slice(24 * 150, 24 * 156))


@pytest.fixture(scope="module")
def modelled(days):
    return simulate(demo(), weather=days)


def modelled_light(site, days, plane):
    """Return light on a plane and behind its glass as modelled (time,)."""
    sky = sky_over(sun_place(site, days), days)
    light = plane_light(site, plane, days, sky.lit)
    return sky.lit.everywhere(light.under_sky), sky.lit.everywhere(light.clean)


def test_modelled_values_fed_back_give_the_same(days, modelled):
    fed = with_columns(
        days,
        poa_global=by_plane(modelled["poa_global"]),
        temp_cell=by_plane(modelled["temp_cell"]),
    )
    result = simulate(demo(), weather=fed)
    for name in ("poa_global", "effective_irradiance", "temp_cell", "p_dc", "p_ac"):
        np.testing.assert_allclose(result[name], modelled[name], rtol=1e-9, atol=1e-9)
    steps, before = budget(result), budget(modelled)
    for step, lost in steps.items():
        assert lost == pytest.approx(before[step], abs=1e-9 * modelled.attrs["energy_kwh"]), step


def test_planes_that_were_not_measured_go_on_as_before(days, modelled):
    west = by_plane(0.8 * modelled["poa_global"], PLANES[:1])
    result = simulate(demo(), weather=with_columns(days, poa_global=west))
    for plane in PLANES[1:]:
        for name in ("poa_global", "effective_irradiance", "temp_cell"):
            np.testing.assert_array_equal(
                result[name].sel(plane=plane), modelled[name].sel(plane=plane)
            )
    np.testing.assert_allclose(result["poa_global"].sel(plane="west roof"), west["west roof"])
    # Less light heats less, by the plane's own mounting.
    air = days["temp_air"].to_numpy()
    warmer = (modelled["temp_cell"].sel(plane="west roof") - air).to_numpy()
    np.testing.assert_allclose(
        result["temp_cell"].sel(plane="west roof") - air, 0.8 * warmer, atol=1e-9
    )


def test_light_on_the_glass_is_not_the_light_in_the_cells(days, modelled):
    light = by_plane(modelled["poa_global"])
    glass = simulate(demo(), weather=with_columns(days, poa_global=light))
    assert budget(glass)["incidence angle"] == pytest.approx(
        budget(modelled)["incidence angle"], rel=1e-9
    )
    assert budget(glass)["incidence angle"] > 0.01 * modelled.attrs["energy_kwh"]
    assert budget(glass)["horizon"] == 0.0
    assert (glass["effective_irradiance"] <= glass["poa_global"] + 1e-9).all()


def test_a_cell_behind_glass_measures_the_light_in_the_cells(days, modelled):
    site = demo()
    columns = with_columns(days, poa_global=by_plane(modelled["effective_irradiance"]))
    for plane in PLANES:
        columns[measured_name("poa_global", plane)].attrs["sensor"] = "reference-cell"
    result = simulate(site, weather=columns)
    for name in ("effective_irradiance", "poa_global", "temp_cell"):
        np.testing.assert_allclose(result[name], modelled[name], rtol=1e-9, atol=1e-9)
    assert prepare(site, columns).remarks[0] == (
        "Measured, not modelled: light on west roof, east roof, dormer. Which share of that light "
        "is direct is modelled, for reflection at the glass."
    )
    said = " ".join(prepare(site, columns).assumptions)
    assert "Light on west roof: measured by a reference-cell in its plane, gain 1; it is" in said


@pytest.mark.parametrize("kind", ["pyranometer", "reference-cell"])
def test_a_sensor_that_lies_otherwise_is_brought_onto_the_plane(days, modelled, kind):
    site = demo()
    lies = site.planes[0].model_copy(update={"tilt_deg": 20.0, "azimuth_deg": 230.0})
    reads = modelled_light(site, days, lies)[1 if kind == "reference-cell" else 0]
    columns = with_columns(days, poa_global={"west roof": reads})
    columns["poa_global of west roof"].attrs.update(
        {"sensor": kind, "sensor_tilt_deg": 20.0, "sensor_azimuth_deg": 230.0}
    )
    result = simulate(site, weather=columns)
    bright = modelled["poa_global"].sel(plane="west roof").to_numpy() > 20.0
    ours = result["effective_irradiance"].sel(plane="west roof").to_numpy()
    theirs = modelled["effective_irradiance"].sel(plane="west roof").to_numpy()
    np.testing.assert_allclose(ours[bright], theirs[bright], rtol=1e-9)
    said = " ".join(prepare(site, columns).assumptions)
    told = f"a {kind} at tilt 20 and azimuth 230 deg"
    assert f"Light on west roof: reckoned, from what was measured by {told}, brought onto" in said
    reckoned = f"Reckoned, not measured there: light on west roof, from {told}."
    assert prepare(site, columns).remarks[0] == reckoned
    assert result.attrs["weather_remarks"].startswith(reckoned)


def test_light_measured_in_its_plane_is_told_from_light_reckoned_from_elsewhere(days, modelled):
    fed = with_columns(
        days,
        poa_global=by_plane(modelled["poa_global"]),
        temp_cell=by_plane(modelled["temp_cell"], PLANES[:1]),
    )
    flat = {"planes.1.tilt_deg": 0.0, "planes.0.azimuth_deg": 360.0}
    site = demo().variant(flat)
    lies = ((site.planes[0].tilt_deg, 0.0), (0.0, 45.0), (30.0, 180.0))
    for plane, (tilt, azimuth) in zip(PLANES, lies, strict=True):
        fed[measured_name("poa_global", plane)].attrs.update(
            {"sensor": "pyranometer", "sensor_tilt_deg": tilt, "sensor_azimuth_deg": azimuth}
        )
    # North is north at 0 and at 360 degrees, and a level sensor faces nowhere.
    assert measured_remark(site.planes, fed) == (
        "Measured, not modelled: light on west roof, east roof; temperature of west roof. Which "
        "share of that light is direct is modelled, for reflection at the glass. Reckoned, not "
        "measured there: light on dormer, from a pyranometer at tilt 30 and azimuth 180 deg."
    )
    fed["poa_global of west roof"].attrs |= {"sensor_tilt_deg": 30.0, "sensor_azimuth_deg": 180.0}
    assert measured_remark(site.planes, fed).endswith(
        "Reckoned, not measured there: light on west roof, dormer, from a pyranometer at tilt 30 "
        "and azimuth 180 deg."
    )
    assert measured_remark(site.planes, days) == ""


def test_light_where_none_is_modelled_comes_from_the_sky(days):
    site = demo()
    dark = np.flatnonzero(days["ghi"].to_numpy() == 0.0)[:3]
    reads = np.zeros(days.sizes["time"])
    reads[dark] = 4.0
    result = simulate(site, weather=with_columns(days, poa_global={"west roof": reads}))
    found = result["poa_global"].sel(plane="west roof").to_numpy()
    np.testing.assert_array_equal(found, reads)
    plane = site.planes[0]
    sky = incidence_modifiers(np.zeros(1), plane.tilt_deg, site.models.incidence).sky
    effective = result["effective_irradiance"].sel(plane="west roof").to_numpy()
    np.testing.assert_allclose(effective[dark], 4.0 * sky, rtol=1e-12)


def test_temperature_of_modules_is_that_of_cells_less_what_the_light_adds(days, modelled):
    back = modelled["temp_cell"] - 1.0 * modelled["poa_global"] / 1000.0
    fed = with_columns(days, temp_module=by_plane(back, PLANES[:1]))
    # King et al. (2004), table 1: 1 K close to a roof; read in pvlib.
    assert demo().planes[0].mounting == "roof-parallel"
    result = simulate(demo(), weather=fed)
    np.testing.assert_allclose(result["temp_cell"], modelled["temp_cell"], atol=1e-9)
    said = prepare(demo(), fed).assumptions
    assert any(
        text.startswith(
            "Cell temperature of west roof: measured on the modules' back, and 1 K more at 1000 "
        )
        for text in said
    )
    assert prepare(demo(), fed).remarks[0] == ("Measured, not modelled: temperature of west roof.")
    cells = with_columns(days, temp_cell=by_plane(modelled["temp_cell"] + 5.0, PLANES[:1]))
    assert "Cell temperature of west roof: measured." in prepare(demo(), cells).assumptions
    assert budget(simulate(demo(), weather=cells))["temperature"] > budget(modelled)["temperature"]


def test_measured_light_reaches_modules_in_shadow_one_by_one(days):
    site = demo().variant(CORNERS | {"obstacles": [CHIMNEY]})
    free = simulate(site, weather=days)
    fed = with_columns(days, poa_global=by_plane(free["poa_global"]))
    result = simulate(site, weather=fed)
    assert budget(free)["obstacles: light missing"] > 0.0
    for step, lost in budget(result).items():
        assert lost == pytest.approx(budget(free)[step], abs=2e-6 * free.attrs["energy_kwh"]), step


def test_a_step_without_its_reading_is_missing(days, modelled):
    light = by_plane(modelled["poa_global"], PLANES[:1])["west roof"].copy()
    light[36] = np.nan
    result = simulate(demo(), weather=with_columns(days, poa_global={"west roof": light}))
    assert result.attrs["missing_steps"] == 1
    assert np.isnan(result["p_ac"].to_numpy()[36])


def test_a_plane_that_is_not_there_is_refused(days):
    fed = with_columns(days, poa_global={"west rooof": np.zeros(days.sizes["time"])})
    with pytest.raises(
        InputError,
        match=r"weather, poa_global of west rooof: got measurements of the plane 'west rooof'; "
        r"expected a plane of this site: 'west roof', 'east roof', 'dormer'\. Did you mean "
        r"'west roof'\?",
    ):
        simulate(demo(), weather=fed)


def test_equal_planes_of_which_one_was_measured_are_two(days):
    twin = {**variant().planes[0].model_dump(), "name": "twin"}
    site = variant(planes=[*(plane.model_dump() for plane in variant().planes), twin])
    light = {"twin": np.full(days.sizes["time"], 300.0)}
    result = simulate(site, weather=with_columns(days, poa_global=light))
    assert result["poa_global"].sel(plane="twin").to_numpy().min() == 300.0
    assert result["poa_global"].sel(plane="west roof").to_numpy().min() == 0.0


def test_reading_and_parts_add_up(days):
    site = demo()
    fed = with_columns(days, poa_global={"west roof": np.full(days.sizes["time"], 250.0)})
    sky = sky_over(sun_place(site, fed), fed)
    light = plane_light(site, site.planes[0], fed, sky.lit)
    assert sky.lit.steps.size == days.sizes["time"]
    seen = light.seen
    parts = seen.poa_direct + seen.poa_sky_diffuse + seen.poa_ground_diffuse
    np.testing.assert_allclose(parts, 250.0, rtol=1e-12)
    np.testing.assert_array_equal(seen.poa_global, 250.0)
    np.testing.assert_array_equal(light.clean, effective_irradiance(seen, light.modifiers))


def test_direct_and_diffuse_parts_keep_their_proportion(days, modelled):
    site = demo()
    half = by_plane(0.5 * modelled["poa_global"], PLANES[:1])
    fed = with_columns(days, poa_global=half)
    plane = site.planes[0]
    whole, ours = (
        light_components(site, plane, sky.lit, plane_light(site, plane, own, sky.lit), 0.0)
        for own in (days, fed)
        for sky in (sky_over(sun_place(site, own), own),)
    )
    for part, expected in zip(ours, whole, strict=True):
        np.testing.assert_allclose(part, 0.5 * expected, rtol=1e-9, atol=1e-9)


def test_a_draw_makes_measured_light_as_bright_as_the_rest(days, modelled):
    fed = with_columns(
        days,
        poa_global=by_plane(modelled["poa_global"], PLANES[:1]),
        temp_cell=by_plane(modelled["temp_cell"], PLANES[1:2]),
    )
    row = {"irradiance level": 10.0, "diffuse light": 0.0, "weather's clock": 5.0}
    drawn = drawable(fed, moves=True).drawn(row, seed=3)
    for name, factor in (("ghi", 1.1), ("poa_global of west roof", 1.1), ("temp_air", 1.0)):
        np.testing.assert_allclose(drawn[name], factor * _moved(fed, name, drawn), rtol=1e-12)
    assert drawn["poa_global of west roof"].attrs["plane"] == "west roof"
    assert "temp_cell of east roof" in drawn


def _moved(fed, name, drawn):
    """Return values of the days that were drawn, told by their temperature."""
    where = {float(value): at for at, value in enumerate(fed["temp_cell of east roof"])}
    steps = [where[float(each)] for each in drawn["temp_cell of east roof"]]
    return fed[name].to_numpy()[steps]


def test_what_a_horizon_takes_is_in_the_measurement(days):
    hill = [{"azimuth_deg": at, "elevation_deg": 25.0} for at in (200.0, 330.0)]
    site = demo().variant({"planes.0.horizon": hill})
    sky = sky_over(sun_place(site, days), days)
    seen = plane_light(site, site.planes[0], days, sky.lit).seen.poa_global
    fed = with_columns(days, poa_global={"west roof": sky.lit.everywhere(seen)})
    modelled, result = simulate(site, weather=days), simulate(site, weather=fed)
    assert budget(modelled)["horizon"] > 0.0
    assert budget(result)["horizon"] == 0.0
    assert result.attrs["energy_kwh"] == pytest.approx(modelled.attrs["energy_kwh"], rel=1e-9)


def test_another_sky_and_mounting_leave_what_was_measured(days, modelled):
    fed = with_columns(
        days,
        poa_global=by_plane(modelled["poa_global"]),
        temp_cell=by_plane(modelled["temp_cell"]),
    )
    site = demo().variant({"planes.0.heat_loss_factor": 0.7, "models.transposition": "isotropic"})
    result = simulate(site, weather=fed)
    np.testing.assert_array_equal(result["poa_global"], modelled["poa_global"])
    np.testing.assert_array_equal(result["temp_cell"], modelled["temp_cell"])
    # Another sky shares the same light out between beam and sky, hence through the glass.
    assert result.attrs["energy_kwh"] == pytest.approx(modelled.attrs["energy_kwh"], rel=0.01)
    assert result.attrs["energy_kwh"] != modelled.attrs["energy_kwh"]
