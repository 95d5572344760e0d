"""What a site file says of dirt, where it can't be so."""

import pytest

from tests.config.small import mapping, sentence

HSU = {"model": "hsu", "pm2_5_ug_m3": 12.0, "pm10_ug_m3": 20.0}


def west(**keys):
    """Return the small site with keys of its western plane."""
    content = mapping()
    first, *others = content["planes"]
    return content | {"planes": [dict(first) | keys, *others]}


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (
            west(soiling_by_month_percent=[1.0] * 11),
            "planes.0.soiling_by_month_percent: got a list of 11; expected 12 losses, one for "
            "each month from January on",
        ),
        (
            west(soiling_loss_percent=2.0, soiling_by_month_percent=[1.0] * 12),
            "planes.0.soiling_by_month_percent: got soiling_by_month_percent beside "
            "soiling_loss_percent; expected dirt in one way only: it would be booked twice. Leave "
            "one of them out.",
        ),
        (
            west(soiling_by_month_percent=[1.0] * 12, soiling_from_rain={"model": "kimber"}),
            "planes.0.soiling_from_rain: got soiling_from_rain beside soiling_by_month_percent; "
            "expected dirt in one way only: it would be booked twice. Leave one of them out.",
        ),
        (
            west(soiling_from_rain=HSU | {"pm10_ug_m3": 6.0}),
            "planes.0.soiling_from_rain.pm10_ug_m3: got 6, below pm2_5_ug_m3, which is 12; "
            "expected at least as much: the finer dust is included. Are the two swapped?",
        ),
        (
            west(soiling_from_rain={"model": "kimbar"}),
            "planes.0.soiling_from_rain.model: got 'kimbar'; expected one of 'kimber', 'hsu'. Did "
            "you mean 'kimber'?",
        ),
        (
            west(initial_loss_percent=-1.0),
            "planes.0.initial_loss_percent: got -1; expected a number of at least 0. "
            "initial_loss_percent: Power that the modules lose in their first hours of light, for "
            "good [%].",
        ),
    ],
)
def test_dirt_that_cannot_be_is_refused(content, said):
    assert said in sentence(content)
