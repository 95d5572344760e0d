"""What is refused by name before anything is computed."""

import re

import numpy as np
import pytest

from tests.physics.circuit.reference import conditions_at
from yieldkit.base.errors import InputError
from yieldkit.physics.circuit.api import (
    Run,
    StringCircuit,
    TrackerLimits,
    operating_point,
    string_voltage,
)

LIGHT = conditions_at(1000.0, 25.0)
SOUND = StringCircuit((Run(0, 30),))


@pytest.mark.parametrize(
    ("strings", "sentences"),
    [
        ((), ["tracker", "no string", "at least one string"]),
        ((SOUND, StringCircuit(())), ["string 2", "no cell groups"]),
        ((StringCircuit((Run(0, 3), Run(0, 0))),), ["string 1, run 2", "0 cell groups"]),
        ((StringCircuit((Run(0, -3),)),), ["string 1, run 1", "-3 cell groups"]),
        ((SOUND._replace(resistance=-0.2),), ["string 1", "a cable of -0.2 ohm"]),
        ((SOUND._replace(resistance=np.nan),), ["string 1", "a cable of nan ohm"]),
        ((SOUND._replace(resistance=np.inf),), ["string 1", "a cable of inf ohm"]),
        ((StringCircuit((Run(4, 3),)),), ["string 1, run 1", "condition 4", "one of 0 to 0"]),
        ((StringCircuit((Run(0, 3, 7),)),), ["string 1, run 1", "condition 7"]),
    ],
)
def test_strings_that_are_no_circuits(strings, sentences):
    with pytest.raises(InputError, match=re.escape(sentences[0])) as refused:
        operating_point(LIGHT, strings)
    for sentence in sentences:
        assert sentence in str(refused.value)


@pytest.mark.parametrize(
    ("limits", "sentences"),
    [
        (
            TrackerLimits(v_mpp_min=800.0, v_mpp_max=200.0),
            ["MPP window", "800.0 V to 200.0 V", "Swap the two."],
        ),
        (TrackerLimits(i_max=-1.0), ["tracker limit i_max", "-1.0", "zero or more"]),
        (TrackerLimits(p_max=np.nan), ["tracker limit p_max", "nan"]),
        (TrackerLimits(start_delay_s=-60.0), ["tracker limit start_delay_s", "-60.0"]),
    ],
)
def test_limits_that_contradict_themselves(limits, sentences):
    with pytest.raises(InputError, match=re.escape(sentences[0])) as refused:
        operating_point(LIGHT, (SOUND,), limits)
    for sentence in sentences:
        assert sentence in str(refused.value)


def test_everything_at_once():
    strings = (StringCircuit(()), SOUND._replace(resistance=-1.0))
    with pytest.raises(InputError, match="string 1") as refused:
        operating_point(LIGHT, strings)
    assert "string 2" in str(refused.value)


def test_curves_refuse_likewise():
    with pytest.raises(InputError, match="no cell groups"):
        string_voltage(LIGHT, StringCircuit(()), np.zeros(1))
