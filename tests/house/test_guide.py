"""The contributor's guide is true: its map, its paths and the commands of the readme."""

import re

import pytest

from tests.house.layers import ROOT
from tests.house.room_map import room_map, written_map

pytestmark = pytest.mark.slow


def test_the_map_is_the_house_of_today():
    assert written_map() == room_map().strip(), "run: python -m tests.house.room_map"


def test_every_path_in_the_guide_exists():
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").split("<!-- map: begins")[0]
    text += (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").split("map: ends -->")[1]
    named = re.findall(
        r"`((?:yieldkit|tests|benchmarks|notebooks|site_configs|weather)/[^`*]*)`", text
    )
    assert len(named) > 10
    missing = [name for name in named if not (ROOT / name).exists()]
    assert missing == []


def test_the_readme_holds_two_commands_of_one_line():
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    blocks = re.findall(r"^```sh\n(.*?)^```$", text, re.MULTILINE | re.DOTALL)
    assert [block.count("\n") for block in blocks] == [1, 1]
    assert all(block.startswith("python3 -m venv .venv && ") for block in blocks)
    assert "yieldkit compare" in blocks[0]
    assert "python -m pytest" in blocks[1]
