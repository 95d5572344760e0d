"""What a shifted clock is taken for, and what a person is told to write, case by case."""

import pytest

from yieldkit.weather.quality.clock_remedy import remedy

MEAN, SNAPSHOT = "mean", "snapshot"


def attrs(sampling, interval_min=60.0, label="start", offset_min=0.0, zone_min=0.0):
    """Return what canonical weather says of its clock."""
    return {
        "sampling": sampling,
        "interval_s": 60.0 * interval_min,
        "label": label,
        "sun_offset_s": 60.0 * offset_min,
        "utc_offset_s": 60.0 * zone_min,
    }


@pytest.mark.parametrize(
    ("own", "shift_min", "verdict", "text", "advice"),
    [
        (
            attrs(SNAPSHOT, offset_min=50.0),
            -20.0,
            "offset",
            "values hold +30 minutes from the time written beside them",
            "zone: UTC, sampling: mean, label: start",
        ),
        (
            attrs(SNAPSHOT, offset_min=50.0),
            -7.0,
            "offset",
            "values hold +43 minutes from the time written beside them",
            "zone: UTC, sampling: snapshot, sun_offset_min: 43",
        ),
        (
            attrs(MEAN, label="end"),
            60.0,
            "zone",
            "the clock is +1 h off the sun: a wrong zone or label?",
            "zone: UTC, sampling: mean, label: start, or zone: UTC-01:00, sampling: mean, "
            "label: end",
        ),
        (
            attrs(MEAN, zone_min=120.0),
            120.0,
            "zone",
            "this file probably stores UTC under a header of UTC+02:00",
            "zone: UTC, sampling: mean, label: start",
        ),
    ],
)
def test_a_shift_has_its_verdict_and_its_keys(own, shift_min, verdict, text, advice):
    assert remedy(own, shift_min, 5.0) == (verdict, text, advice)
