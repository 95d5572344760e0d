"""A ranking read back is the one that was saved, and no other's."""

import numpy as np
import pytest

from tests.study.sites import demo, variant, weather
from yieldkit.base.errors import InputError
from yieldkit.design.permitted.constraints import Constraints
from yieldkit.study.ranking.propose import propose
from yieldkit.study.results.ranking import RANKING_FILE, save_ranking, saved_ranking

pytestmark = pytest.mark.slow

FEW = Constraints(shortest=7, longest=20)


@pytest.fixture(scope="module")
def ranking():
    """Return a small ranking on some days."""
    return propose(demo(), FEW, weather(), every_days=7)


def test_what_is_read_back_is_what_was_saved(ranking, tmp_path):
    table = save_ranking(ranking, tmp_path)
    again = saved_ranking(tmp_path, demo(), FEW, weather())
    assert (again.order == ranking.order).all()
    assert again.possible == ranking.possible
    for name in ("energy_kwh", "held_back_kwh", "capped_hours"):
        np.testing.assert_array_equal(getattr(again, name), getattr(ranking, name))
    assert again.sample == ranking.sample
    assert again.solved_whole == ranking.solved_whole
    assert again.wiring(0) == ranking.wiring(0)
    assert len(table.read_text(encoding="utf-8").splitlines()) == ranking.order.size + 1


def test_a_stopped_ranking_is_read_back_as_it_was(tmp_path):
    some = propose(demo(), FEW, weather(), progress=lambda word, done, _all: word == "wirings")
    assert some.order.size < len(some.possible.candidates)
    save_ranking(some, tmp_path)
    again = saved_ranking(tmp_path, demo(), FEW, weather())
    assert (again.order == some.order).all()


@pytest.mark.parametrize(
    ("site", "constraints", "other"),
    [
        (variant({"grid.load_w": 300.0}), FEW, "site"),
        (demo(), Constraints(shortest=7, longest=19), "set of constraints"),
    ],
    ids=["another site", "other constraints"],
)
def test_the_ranking_of_something_else_is_refused(ranking, tmp_path, site, constraints, other):
    save_ranking(ranking, tmp_path)
    with pytest.raises(InputError, match=f"results of another {other};") as error:
        saved_ranking(tmp_path, site, constraints, weather())
    assert "Make them again." in str(error.value)


def test_a_changed_file_is_refused(ranking, tmp_path):
    save_ranking(ranking, tmp_path)
    path = tmp_path / RANKING_FILE
    path.write_bytes(path.read_bytes() + b" ")
    with pytest.raises(InputError, match="content that"):
        saved_ranking(tmp_path, demo(), FEW, weather())
