"""What is told of light measured on planes alone while the sun stands behind the sensors."""

import json

import numpy as np
import pandas as pd

from yieldkit.base.measured_planes import measured_name
from yieldkit.physics.irradiance.sky import Horizontal, decompose, plane_irradiance
from yieldkit.weather.readers.canonical import Sampling, Station, from_frame, sun_of
from yieldkit.weather.readers.on_planes import PlaneSensor

PLACE = Station(45.0, 8.0, 200.0, 3600, 10.0)
TOLD = "stood behind every sensor"


def frame(*planes, days=2, start="2019-06-20T23:00", **columns):
    """Return a table of hours under an even sky: light on planes, and columns beside it."""
    times = pd.date_range(start, periods=24 * days, freq="h", tz="UTC")
    bare = pd.DataFrame({"ghi": 0.0, "temp_air": 20.0, "wind_speed": 1.0}, index=times)
    sun = sun_of(from_frame(bare, PLACE, Sampling("mean")))
    ghi = 0.5 * sun.dni_extra * np.maximum(np.cos(np.radians(sun.zenith)), 0.0)
    light = Horizontal(ghi, *decompose(ghi, sun, "erbs-driesse"))
    for name, *lies in planes:
        on_it = plane_irradiance(sun, light, 0.2, *lies, "perez-driesse").poa_global
        bare[measured_name("poa_global", name)] = on_it
    return bare.drop(columns="ghi").assign(**columns), sun, ghi


def read(table, *planes):
    sensors = [PlaneSensor(name, "pyranometer", *lies, 1.0) for name, *lies in planes]
    return from_frame(table, PLACE, Sampling("mean"), sensors=sensors)


def cautions(weather):
    return [each for each in json.loads(weather.attrs["quality"])["cautions"] if TOLD in each]


EAST, WEST, WALL = ("east", 30.0, 90.0), ("west", 30.0, 270.0), ("wall", 90.0, 0.0)


def test_a_person_is_told_how_much_the_sensor_could_not_see():
    table, sun, _ = frame(EAST)
    weather = read(table, EAST)
    day = sun.apparent_zenith < 90.0
    # The cosine of the angle between sun and plane, written out.
    up, towards_east = np.cos(np.radians(sun.apparent_zenith)), np.sin(np.radians(sun.azimuth))
    across = np.sin(np.radians(sun.apparent_zenith)) * towards_east
    facing = up * np.cos(np.radians(30.0)) + across * np.sin(np.radians(30.0))
    assert (day & (facing <= 0.0)).sum() == 8
    untold = day & (facing < np.minimum(np.cos(np.radians(70.0)), 0.5 * up))
    found = weather["ghi"].to_numpy()
    share = 100.0 * found[untold].sum() / found.sum()
    assert untold.sum() == 12
    assert cautions(weather) == [
        f"In 12 of {day.sum()} daylit steps, with {share:.0f} % of the global light as reckoned, "
        "the sun stood behind every sensor of light on planes or grazed it at over 70 degrees: a "
        "dim sky reads like a bright one then. The beam is assumed there, as clear as when the sun "
        "met them more squarely on that day (after Marion 2015). The energy of planes that face "
        "away from them is uncertain by some per cent in a year, and no span that is told allows "
        "for it. Measure global irradiance, or light on planes that face the other way."
    ]


def test_days_without_any_sun_on_the_sensor_are_told_as_well():
    table, *_ = frame(WALL)
    times = table.index - pd.Timedelta(days=183)
    weather = read(table.set_axis(times, axis="index"), WALL)
    (said,) = cautions(weather)
    untold = said.split()[1]
    assert f" On days on which it never did no beam is assumed in {untold} of them. The" in said
    assert "uncertain by some per cent in a year, on days without a beam far too low, and" in said
    np.testing.assert_array_equal(weather["dni"], 0.0)


def test_where_grazed_readings_alone_are_left_it_is_told_too():
    gentle = ("gentle", 16.0, 0.0)
    table, sun, _ = frame(gentle, start="2019-12-20T23:00")
    said = cautions(read(table, gentle))[0]
    up, north = np.cos(np.radians(sun.apparent_zenith)), np.cos(np.radians(sun.azimuth))
    tilt = np.radians(16.0)
    facing = up * np.cos(tilt) + np.sin(np.radians(sun.apparent_zenith)) * north * np.sin(tilt)
    assert (facing[up > 0.0] < np.minimum(np.cos(np.radians(70.0)), 0.5 * up)[up > 0.0]).all()
    behind, grazed = ((up > 0.0) & (facing <= 0.0)).sum(), (facing > 0.0)[up > 0.0].sum()
    assert (behind, grazed) == (8, 10)
    assert said.startswith("In 18 of 18 daylit steps, with 100 % of the global light")
    assert (
        " On days on which it never did no beam is assumed in 8 of them, and in 10 the reading "
        "alone counts. The energy" in said
    )


def test_where_the_sun_always_shines_on_a_sensor_nothing_is_told():
    both, *_ = frame(EAST, WEST)
    assert cautions(read(both, EAST, WEST)) == []
    table, _, ghi = frame(EAST)
    assert cautions(read(table.assign(ghi=ghi), EAST)) == []


def test_a_small_share_is_not_told_as_none():
    gentle = ("south", 4.0, 180.0)
    table, *_ = frame(gentle)
    (said,) = cautions(read(table, gentle))
    assert 0.0 < float(said.split(" with ")[1].split(" %")[0]) < 1.0
