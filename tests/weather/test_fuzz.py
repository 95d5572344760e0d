"""Hundreds of broken weather files: only our own error comes out."""

import json
import random

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.amounts import amount
from yieldkit.base.errors import InputError
from yieldkit.weather.readers.read import find_file, read_weather
from yieldkit.weather.readers.source import Source

pytestmark = pytest.mark.slow

LINES = find_file("typical-year-45n-8e", "canonical").read_text(encoding="utf-8").splitlines()
SMALL = "\n".join([LINES[0], LINES[1], *LINES[3602:3650]]) + "\n"
PIECES = [
    "",
    ",",
    ";",
    "\n",
    "\x00",
    "nan",
    "-9999",
    "1e400",
    "-inf",
    "T",
    "2019-13-40T99:99",
    '"',
    "{",
    "}",
    "é",
    "0",
    "-50",
    "1e9",
    "time",
    "ghi",
    "# canonical weather: ",
    "True",
    "\r",
]
SOURCES = [
    Source(),
    Source(zone="UTC+14:00"),
    Source(sampling="mean", label="end", fill_gaps_up_to_h=3.0),
]
_many = settings(max_examples=amount(500, 3400), suppress_health_check=list(HealthCheck))


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Return a folder for the broken files."""
    return tmp_path_factory.mktemp("broken")


def broken(seed, cuts):
    """Return the small file's bytes, broken in some places."""
    rng = random.Random(seed)
    text = SMALL
    for _ in range(cuts):
        at = rng.randrange(len(text) + 1)
        until = min(len(text), at + rng.choice([0, 0, 1, 3, 40, 400]))
        text = text[:at] + rng.choice(PIECES) + text[until:]
    content = text.encode("utf-8", errors="replace")
    if rng.random() < 0.1:
        at = rng.randrange(len(content) + 1)
        content = content[:at] + bytes(rng.randrange(256) for _ in range(5)) + content[at:]
    return content


@given(st.integers(0, 2**40), st.integers(1, 6), st.sampled_from(SOURCES))
@_many
@pytest.mark.filterwarnings("ignore")
def test_a_broken_file_gives_one_kind_of_error(folder, seed, cuts, said):
    path = folder / "broken.csv"
    path.write_bytes(broken(seed, cuts))
    try:
        found = read_weather(path, "canonical", said)
    except InputError:
        return
    assert found.sizes["time"] >= 2
    missing = json.loads(found.attrs["quality"])["missing_steps"]
    assert int(found["ghi"].isnull().sum()) == missing < found.sizes["time"]


@given(st.binary(max_size=400), st.sampled_from(["tmy3", "tmy2", "epw", "nsrdb", "csv", "parquet"]))
@settings(max_examples=amount(150, 600), suppress_health_check=list(HealthCheck))
@pytest.mark.filterwarnings("ignore")
def test_noise_gives_one_kind_of_error(folder, content, form):
    path = folder / f"noise.{form}"
    path.write_bytes(content)
    said = Source(columns={"time": "t", "ghi": "g"}, latitude=1.0, longitude=1.0, zone="UTC")
    with pytest.raises(InputError, match="expected"):
        read_weather(path, form, said)
