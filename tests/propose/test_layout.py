"""Strings laid on the roof as connected runs of neighbours."""

from tests.study.sites import demo_mapping, string, variant, wiring
from yieldkit.design.layout import serpentine, string_layout


def roof(columns, rows, missing=()):
    """Return the site with one plane whose modules have places, and two strings on it."""
    places = [
        {"row": row, "column": column}
        for row in range(rows)
        for column in range(columns)
        if (row, column) not in missing
    ]
    plane = dict(demo_mapping()["planes"][0], positions=places, modules=len(places))
    half = len(places) // 2
    own = [
        wiring(
            "two",
            MPPT_1=[string(("west roof", half)), string(("west roof", len(places) - half))],
        )
    ]
    return variant(None, own, [plane])


def test_every_module_is_in_one_run_and_neighbours_follow_one_another():
    site = roof(6, 4)
    runs = string_layout(site, site.wirings[0])
    assert sorted(place for run in runs for place in run.modules) == list(range(24))
    assert all(run.connected for run in runs)
    assert [len(run.modules) for run in runs] == [12, 12]
    # Two rows there and back end where they began: one module's height up.
    assert runs[0].return_m == 1.722


def test_rows_turn_round_at_their_ends():
    site = roof(3, 2)
    assert serpentine(site.planes[0]) == (0, 1, 2, 5, 4, 3)


def test_a_gap_in_the_roof_is_told():
    site = roof(5, 2, missing={(0, 2)})
    runs = string_layout(site, site.wirings[0])
    assert not all(run.connected for run in runs)


def test_without_positions_there_is_no_layout():
    site = variant()
    assert string_layout(site, site.wirings[0]) is None
