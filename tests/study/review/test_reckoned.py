"""A right plant of which light was measured elsewhere is told to be right, within wider bands."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pvlib
import pytest

from tests.study.review.plants import plants
from tests.study.review.year_logs import Drawn, log_of
from yieldkit.base.measured_planes import POA, measured_name
from yieldkit.study.handover.diffuse_share import diffuse_share_off
from yieldkit.study.logs.sensors import _without_blind_steps
from yieldkit.study.review.result import STRING
from yieldkit.study.review.review import review
from yieldkit.weather.readers.canonical import Sampling, Station, from_frame
from yieldkit.weather.readers.on_planes import PlaneSensor

GHI = -1
"""Global light alone, in place of a plane's position."""


def log_by(name, at, seed, drawn=None, gain=1.0):
    """Return the log of a plant whose light one plane's sensor measured, or global light alone."""
    site, wiring = plants()[name]
    log = log_of(site, wiring, drawn or Drawn(), seed, sensors="level" if at == GHI else "planes")
    plane = site.planes[max(at, 0)]
    column = "ghi" if at == GHI else measured_name(POA, plane.name)
    kept = log.weather[[column, "temp_air", "wind_speed"]].to_dataframe().tz_localize("UTC")
    kept[column] *= gain
    place = site.site
    station = Station(
        place.latitude,
        place.longitude,
        place.altitude_m,
        int(place.utc_offset_s),
        10.0,
        named=False,
    )
    lies = PlaneSensor(plane.name, "pyranometer", plane.tilt_deg, plane.azimuth_deg, 1.0)
    sensors = [] if at == GHI else [lies]
    found = from_frame(kept, station, Sampling("mean", "start"), sensors=sensors)
    if at != GHI:
        found = _without_blind_steps(found, wiring, [])
    found = found.reindex(time=log.data.indexes["time"]).assign_attrs(found.attrs)
    return replace(log, weather=found)


def reviewed(name, at, seed, drawn=None, gain=1.0):
    site, wiring = plants()[name]
    return review(site, wiring, log_by(name, at, seed, drawn, gain))


def right(found):
    """Tell that a review accuses nothing, and that a right plant's year lies in its bands."""
    low, high = found.data["year_band"].transpose("bound", "tracker").to_numpy()
    ratio = found.data["year_ratio"].to_numpy()
    return not found.signs and bool(((low < ratio) & (ratio < high)).all())


def test_a_right_plant_is_not_accused_by_global_light_alone():
    assert right(reviewed("demo", GHI, 2))


def test_a_right_plant_is_not_accused_by_light_on_another_plane():
    (site, _), found = plants()["demo"], reviewed("demo", 0, 1, gain=0.95)
    assert right(found)
    rest = ", ".join(plane.name for plane in site.planes[1:])
    assert any(
        f"Shadow, dirt, tilt and azimuth can't be told on {rest}: light there is reckoned" in text
        for text in found.remarks
    )
    assert any(
        f"No sensor measured light in {rest}: what is reckoned there may be off by 4 % in the mean"
        in text
        for text in found.rests_on
    )


def test_a_string_that_gives_nothing_is_told_by_another_planes_light():
    (sign,) = reviewed("demo", 0, 3, Drawn(open_string=(0, 1))).signs
    assert sign.kind == STRING


def test_a_sensor_that_lies_otherwise_measures_no_plane():
    site, wiring = plants()["demo"]
    log = log_of(site, wiring, every=30)
    plane = site.planes[0]
    column = measured_name(POA, plane.name)
    turned = log.weather.copy()
    turned[column] = turned[column].assign_attrs(
        sensor_tilt_deg=plane.tilt_deg, sensor_azimuth_deg=plane.azimuth_deg + 1.0
    )
    own, other = (
        review(site, wiring, replace(log, weather=each)) for each in (log.weather, turned)
    )
    low, high = (each.data["year_band"].to_numpy() for each in (own, other))
    wider = np.log(high[:, 1] / high[:, 0]) / np.log(low[:, 1] / low[:, 0])
    reached = [
        any(g.plane == plane.name for s in t.strings for g in s.groups) for t in wiring.trackers
    ]
    assert (wider[np.array(reached)] > 1.15).all()
    assert wider[~np.array(reached)] == pytest.approx(1.0, abs=0.02)


def test_how_far_reckoned_light_is_off_is_what_cloudless_skies_show():
    # Ineichen and Perez (2002) by pvlib, at a turbidity of 3, split by Erbs and Driesse (computed).
    zenith = np.array([40.0, 60.0, 75.0, 80.0])
    air = pvlib.atmosphere.get_absolute_airmass(pvlib.atmosphere.get_relative_airmass(zenith))
    sky = pvlib.clearsky.ineichen(zenith, air, 3.0)
    split = pvlib.irradiance.erbs_driesse(sky["ghi"], zenith, 100)
    off = (np.asarray(split["dhi"]) - sky["dhi"]) / sky["ghi"]
    assert off == pytest.approx([0.06, 0.10, 0.28, 0.42], abs=0.01)
    ours = diffuse_share_off(90.0 - zenith)
    assert (off / ours < 1.75).all()
    assert (ours / off < 1.75).all()
    assert pd.Series(ours).is_monotonic_increasing
