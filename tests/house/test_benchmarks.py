"""The benchmarks can be collected, and their numbers say which way is better."""

from importlib import import_module

import pytest

from benchmarks.__main__ import better, modules


def test_every_module_of_the_folder_has_a_run():
    assert "main_job" in modules()
    for name in modules():
        assert callable(import_module(f"benchmarks.{name}").run), name


@pytest.mark.parametrize(
    ("key", "word"),
    [("a_time_ratio", "smaller"), ("compare_four_wirings_s", "smaller"), ("b_speedup", "larger")],
)
def test_the_ending_of_a_key_says_what_is_better(key, word):
    assert better(key) == word


def test_a_key_that_does_not_say_so_is_refused():
    with pytest.raises(ValueError, match="benchmark 'ratio' must end in one of _s, _time_ratio"):
        better("ratio")
