"""What a batch says, from rows made up so that every answer is known."""

import itertools
import json
import math

import numpy as np
import pandas as pd
import pytest

import yieldkit
from yieldkit.base.errors import InputError
from yieldkit.study.batch.what_if import looked_at

DIMENSIONS = {
    "tilt": ["tilt"],
    "both": ["lead", "fuse"],
    "cells": ["cells"],
    "wiring": ["wiring"],
}
COUNTS = {"ok": 35, "failed": 1, "left out": 0}


def energy_of(tilt, lead, cells, wiring):
    """Return the energy of made-up runs [kWh]: each direction adds its own."""
    return 1000 + 10 * tilt + 3 * lead + {"A": 0, "B": 40}[cells] - {"plain": 0, "bent": 7}[wiring]


def frame(**changed):
    """Return the rows of every combination; the site itself has tilt 30, lead 6, cells A."""
    rows = []
    for tilt, (lead, fuse), cells, wiring in itertools.product(
        (40, 20, 30), ((6, 25), (10, 32), (16, 40)), ("B", "A"), ("plain", "bent")
    ):
        changes = [["a", tilt]] * (tilt != 30) + [["b", lead], ["c", fuse]] * (lead != 6)
        rows.append(
            {
                "run": f"{len(rows):032x}",
                "tilt": tilt,
                "lead": lead,
                "fuse": fuse,
                "cells": cells,
                "wiring": wiring,
                "site": "barn",
                "status": "ok",
                "message": "",
                "permission": "permitted",
                "changes": json.dumps(changes + [["d", cells]] * (cells != "A")),
                "energy_kwh": float(energy_of(tilt, lead, cells, wiring)),
                "kwp": 10.0,
                "kwh_per_kwp": energy_of(tilt, lead, cells, wiring) / 10.0,
            }
        )
    return pd.DataFrame(rows).assign(**changed)


def failed(rows, at, message="It can't be."):
    """Let a run fail."""
    rows.loc[at, ["status", "message", "permission"]] = ["failed", message, None]
    rows.loc[at, ["energy_kwh", "kwp", "kwh_per_kwp"]] = np.nan
    return rows


def test_the_reference_is_the_site_itself_where_the_plan_has_it():
    found = looked_at(frame(), DIMENSIONS, "plan.yaml", COUNTS)
    assert found.reference == {
        "tilt": "30",
        "both (lead / fuse)": "6 / 25",
        "cells": "A",
        "wiring": "plain",
    }
    assert found.reference_kwh == energy_of(30, 6, "A", "plain")


def test_an_axis_without_the_sites_value_has_its_middle_for_the_reference():
    rows = frame()
    rows = rows[rows["tilt"] != 30]
    more = frame()[frame()["tilt"] == 40].assign(tilt=50)
    found = looked_at(pd.concat([rows, more]), DIMENSIONS, "plan.yaml", COUNTS)
    assert found.reference["tilt"] == "40"


def test_each_axis_alone_has_its_own_effect_the_largest_first():
    found = looked_at(frame(), DIMENSIONS, "plan.yaml", COUNTS)
    assert [effect.name for effect in found.effects] == [
        "tilt",
        "cells",
        "both (lead / fuse)",
        "wiring",
    ]
    tilt, cells, both, wiring = found.effects
    assert tilt.values == ("20", "30", "40")
    assert tilt.numbers.tolist() == [20, 30, 40]
    assert tilt.own("plain").tolist() == [energy_of(t, 6, "A", "plain") for t in (20, 30, 40)]
    assert tilt.energy_kwh["bent"].tolist() == [energy_of(t, 6, "A", "bent") for t in (20, 30, 40)]
    assert tilt.usual == 1
    assert (cells.values, cells.numbers) == (("B", "A"), None)
    assert both.own("plain").tolist() == [energy_of(30, n, "A", "plain") for n in (6, 10, 16)]
    assert wiring.own("plain").tolist() == [
        energy_of(30, 6, "A", name) for name in ("plain", "bent")
    ]
    # Among all runs of a value the others move as they like.
    assert tilt.lowest.tolist() == [energy_of(t, 6, "A", "bent") for t in (20, 30, 40)]
    assert tilt.highest.tolist() == [energy_of(t, 16, "B", "plain") for t in (20, 30, 40)]


def test_two_axes_together_are_those_that_do_most():
    grid = looked_at(frame(), DIMENSIONS, "plan.yaml", COUNTS).grid
    assert (grid.across, grid.up) == ("tilt", "cells")
    assert grid.energy_kwh.tolist() == [
        [energy_of(tilt, 6, cells, "plain") for tilt in (20, 30, 40)] for cells in ("B", "A")
    ]


def test_a_failed_run_is_missing_and_nowhere_zero():
    rows = frame()
    (at,) = np.flatnonzero(
        (rows["tilt"] == 40)
        & (rows["lead"] == 6)
        & (rows["cells"] == "A")
        & (rows["wiring"] == "plain")
    )
    found = looked_at(failed(rows, at), DIMENSIONS, "plan.yaml", COUNTS)
    tilt = next(effect for effect in found.effects if effect.name == "tilt")
    assert math.isnan(tilt.own("plain")[2])
    assert tilt.lowest[2] == energy_of(40, 6, "A", "bent")
    assert found.failures == (("It can't be.", 1, f"{at:032x}"),)
    assert (found.grid.energy_kwh == 0).sum() == 0
    # A failed reference is no reference: the nearest run is.
    (own,) = np.flatnonzero(
        (rows["tilt"] == 30)
        & (rows["lead"] == 6)
        & (rows["cells"] == "A")
        & (rows["wiring"] == "plain")
    )
    found = looked_at(failed(rows, own), DIMENSIONS, "plan.yaml", COUNTS)
    assert np.isfinite(found.reference_kwh)


def test_failures_are_counted_by_what_went_wrong():
    rows = failed(failed(failed(frame(), 3, "one"), 5, "two"), 7, "two")
    found = looked_at(rows, DIMENSIONS, "plan.yaml", COUNTS)
    assert [(each.message, each.runs, each.run) for each in found.failures] == [
        ("two", 2, f"{5:032x}"),
        ("one", 1, f"{3:032x}"),
    ]


def test_the_best_of_a_site_passes_every_check_there():
    rows = frame()
    best = rows["energy_kwh"].idxmax()
    (found,) = looked_at(rows, DIMENSIONS, "plan.yaml", COUNTS).best
    assert (found.run, found.permission) == (rows["run"][best], "permitted")
    assert found.values["tilt"] == "40"
    rows.loc[best, "permission"] = "not permitted"
    second = rows["energy_kwh"].drop(best).idxmax()
    (found,) = looked_at(rows, DIMENSIONS, "plan.yaml", COUNTS).best
    assert found.run == rows["run"][second]


def test_where_nothing_is_permitted_the_best_with_nothing_forbidden_is_told_so():
    rows = frame(permission="not permitted")
    rows.loc[[2, 9], "permission"] = "nothing forbidden found"
    (found,) = looked_at(rows, DIMENSIONS, "plan.yaml", COUNTS).best
    assert found.permission == "nothing forbidden found"
    assert found.energy_kwh == max(rows["energy_kwh"][[2, 9]])
    (found,) = looked_at(frame(permission="not permitted"), DIMENSIONS, "plan.yaml", COUNTS).best
    assert (found.run, found.permission) == ("", "")


def test_every_site_has_its_own_best():
    rows = pd.concat([frame(), frame(site="shed", energy_kwh=5.0)])
    rows["house"] = rows["site"]
    dimensions = {"house": ["house"], **DIMENSIONS}
    found = looked_at(rows, dimensions, "plan.yaml", COUNTS)
    assert [(best.site, best.values["house"]) for best in found.best] == [
        ("barn", "barn"),
        ("shed", "shed"),
    ]
    assert found.best[1].energy_kwh == 5.0


def test_a_batch_of_failures_alone_has_no_effects():
    rows = frame()
    for at in range(len(rows)):
        rows = failed(rows, at)
    found = looked_at(rows, DIMENSIONS, "plan.yaml", COUNTS)
    assert math.isnan(found.reference_kwh)
    assert found.best[0].run == ""
    assert found.failures[0].runs == len(rows)


def test_a_card_says_how_it_went():
    text = repr(looked_at(frame(), DIMENSIONS, "plan.yaml", COUNTS))
    assert text.startswith("Runs of plan.yaml\n")
    assert "best of barn" in text
    assert "permitted" in text


def test_a_folder_without_runs_is_told(tmp_path):
    with pytest.raises(InputError, match=r"got no table of runs; expected the folder of a batch\."):
        yieldkit.what_if(tmp_path)
