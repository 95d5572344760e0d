"""A plan computed in this process: its tables, what is reused, and what is told when it fails."""

import json
import os
import time

import numpy as np
import pandas as pd
import pyarrow.parquet as pq
import pytest
import xarray as xr

import yieldkit
from tests.study.batch import batches
from yieldkit.base.errors import InputError
from yieldkit.study.batch.run import site_of
from yieldkit.study.batch.store import Store
from yieldkit.study.batch.sweep import sweep

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def done(tmp_path_factory):
    """Return a plan's runs, the folder of its batch, and what was said of it."""
    folder = tmp_path_factory.mktemp("done")
    runs = batches.batch(folder, batches.SMALL)
    told = []
    said = yieldkit.sweep(
        folder / "plan.yaml", folder / "out", workers=1, progress=lambda *how: told.append(how)
    )
    return runs, folder, said, told


def test_the_table_has_a_row_for_every_run_with_what_simulate_gives(done):
    runs, folder, said, _ = done
    assert said[:4] == (36, 0, 0, 0)
    frame = batches.table(folder / "out").to_pandas()
    assert list(frame["run"]) == [run.name for run in runs]
    for place, run in list(enumerate(runs))[::7]:
        wanted = batches.oracle_row(site_of(runs.bases, run))
        assert {name: frame[name][place] for name in wanted} == wanted
        assert dict(run.axes) == {name: frame[name][place] for name, _ in run.axes}


def test_columns_say_their_unit_and_the_file_its_plan(done):
    _, folder, _, _ = done
    schema = pq.read_schema(folder / "out" / "runs.parquet")
    units = {name: schema.field(name).metadata for name in schema.names}
    assert units["energy_kwh"] == {b"unit": b"kWh"}
    assert units["loss: DC cable"] == {b"unit": b"kWh"}
    assert units["clipped_hours"] == {b"unit": b"h"}
    assert units["tilt"] is None
    assert schema.metadata[b"plan"] == b"plan.yaml"
    assert schema.metadata[b"runs"] == b"36"


def test_the_grid_has_the_axes_as_coordinates(done):
    runs, folder, _, _ = done
    with xr.open_dataset(folder / "out" / "runs.nc", engine="h5netcdf") as grid:
        assert grid["energy_kwh"].dims == ("tilt", "lead", "soiling", "wiring")
        assert grid["energy_kwh"].attrs["units"] == "kWh"
        frame = batches.table(folder / "out").to_pandas()
        run = list(runs)[17]
        one = grid.sel({**dict(run.axes), "wiring": run.wiring})
        assert float(one["energy_kwh"]) == frame["energy_kwh"][17]
        assert float(one["loss"].sel(loss_step="DC cable")) == frame["loss: DC cable"][17]
        assert float(one["month_energy"].sel(month="Jun")) == frame["month: Jun"][17]
        assert float(one["input_energy"].sel(input="MPPT 2")) == frame["input: MPPT 2"][17]
        assert (
            grid.attrs["batch"] == batches.table(folder / "out").schema.metadata[b"batch"].decode()
        )


def test_spreadsheets_get_the_same_numbers(done):
    _, folder, _, _ = done
    found = pd.read_csv(folder / "out" / "runs.csv")
    frame = batches.table(folder / "out").to_pandas()
    np.testing.assert_array_equal(found["energy_kwh"], frame["energy_kwh"])
    np.testing.assert_array_equal(found["loss: DC cable [kWh]"], frame["loss: DC cable"])


def test_progress_is_told_to_the_end(done):
    told = done[3]
    assert told[-1] == ("runs", 36, 36)
    assert [each[1] for each in told] == sorted(each[1] for each in told)


def test_the_same_call_again_computes_nothing_and_a_new_value_only_its_runs(done):
    _, folder, _, _ = done
    before = batches.table(folder / "out")
    again = sweep(folder / "plan.yaml", folder / "out", workers=1)
    assert again[:4] == (0, 36, 0, 0)
    assert (
        batches.table(folder / "out")
        .replace_schema_metadata(None)
        .equals(before.replace_schema_metadata(None))
    )
    more = batches.SMALL.replace("[20, 28, 35]", "[20, 28, 31, 35]")
    batches.put_plan(folder, more, "more.yaml")
    assert sweep(folder / "more.yaml", folder / "out", workers=1)[:3] == (12, 36, 0)
    assert batches.table(folder / "out").num_rows == 48
    assert sweep(folder / "plan.yaml", folder / "out", workers=1)[:3] == (0, 36, 0)
    assert batches.table(folder / "out").num_rows == 36


FAILING = """\
base: site.yaml
axes:
  - {kind: string_length, name: length, tracker: MPPT 1, values: [12, 13, 14]}
wirings: [one plane per tracker]
"""


def test_a_run_that_cannot_be_is_a_row_with_why_and_the_others_finish(tmp_path):
    batches.batch(tmp_path, FAILING)
    said = sweep(tmp_path / "plan.yaml", tmp_path / "out", workers=1)
    assert said[:3] == (3, 0, 1)
    frame = batches.table(tmp_path / "out").to_pandas()
    assert list(frame["status"]) == ["ok", "ok", "failed"]
    assert "28 modules" in frame["message"][2]
    numbers = [name for name in frame if pd.api.types.is_float_dtype(frame[name])]
    assert len(numbers) > 40
    assert frame.loc[2, numbers].isna().all()
    with xr.open_dataset(tmp_path / "out" / "runs.nc", engine="h5netcdf") as grid:
        assert np.isnan(grid["energy_kwh"].sel(length=14)).all()
        assert str(grid["status"].sel(length=14).to_numpy()[0]) == "failed"
    last = (tmp_path / "out" / "runs.csv").read_text().splitlines()[-1]
    assert ",0.0," not in last


def test_a_failed_run_stays_failed_until_it_is_asked_for_again(tmp_path, monkeypatch):
    batches.batch(tmp_path, batches.SMALL)

    def fails(_simulated):
        raise ValueError("the moon")

    with monkeypatch.context() as patch:
        patch.setattr("yieldkit.study.batch.part_work.row_of", fails)
        assert sweep(tmp_path / "plan.yaml", tmp_path / "out", workers=1)[:3] == (36, 0, 36)
    said = batches.table(tmp_path / "out")["message"].to_pylist()
    assert set(said) == {"An error of ours (ValueError: the moon); please report it."}
    assert sweep(tmp_path / "plan.yaml", tmp_path / "out", workers=1)[:3] == (0, 36, 36)
    found = sweep(tmp_path / "plan.yaml", tmp_path / "out", workers=1, again="failed")
    assert found[:3] == (36, 0, 0)
    assert set(batches.table(tmp_path / "out")["status"].to_pylist()) == {"ok"}
    with pytest.raises(InputError, match="again: got 'all'; expected 'failed', or nothing"):
        sweep(tmp_path / "plan.yaml", tmp_path / "out", workers=1, again="all")


def test_too_little_memory_is_told_in_the_row(tmp_path, monkeypatch):
    batches.batch(tmp_path, FAILING)

    def fails(*_given):
        raise MemoryError

    monkeypatch.setattr("yieldkit.study.batch.shared.SharedWork.simulated", fails)
    sweep(tmp_path / "plan.yaml", tmp_path / "out", workers=1)
    said = batches.table(tmp_path / "out")["message"].to_pylist()
    assert said[0] == "Not enough memory for this run."


def test_a_file_that_is_gone_is_told_in_the_row(tmp_path):
    runs = batches.batch(tmp_path, FAILING)
    (tmp_path / "days.csv").unlink()
    assert sweep(runs, tmp_path / "out", workers=1).failed == 3
    assert "days.csv" in batches.table(tmp_path / "out")["message"].to_pylist()[0]


def test_one_run_alone_is_computed_and_the_others_are_not(tmp_path):
    runs = batches.batch(tmp_path, batches.SMALL)
    name = list(runs)[5].name
    said = sweep(runs, tmp_path / "out", workers=1, only=name[:10])
    assert said[:3] == (1, 0, 0)
    frame = batches.table(tmp_path / "out").to_pandas()
    assert list(frame["run"][frame["status"] == "ok"]) == [name]
    assert (frame["status"] == "not computed").sum() == 35
    with pytest.raises(InputError, match="got 'zz', as which no run of the plan begins"):
        sweep(runs, tmp_path / "out", only="zz")
    with pytest.raises(InputError, match="as which 36 runs of the plan begin; expected the name"):
        sweep(runs, tmp_path / "out", only="")


def test_runs_that_are_the_same_are_computed_once_and_are_rows_each(tmp_path):
    place = "wirings.one plane per tracker.trackers.MPPT 2.strings.0.cable.length_m"
    text = batches.SMALL.replace("planes.west roof.soiling_loss_percent", place)
    runs = batches.batch(tmp_path, text.replace("values: [0, 3]", "values: [16, 30]"))
    names = [run.name for run in runs]
    assert (len(names), len(set(names))) == (36, 27)  # another wiring's cable changes nothing
    assert sweep(runs, tmp_path / "out", workers=1)[:3] == (27, 9, 0)
    frame = batches.table(tmp_path / "out").to_pandas()
    assert list(frame["run"]) == names
    assert frame["energy_kwh"].notna().all()


def test_rows_are_joined_by_name_and_not_by_their_order(tmp_path):
    runs = batches.batch(tmp_path, batches.SMALL)
    sweep(runs, tmp_path / "out", workers=1)
    before = batches.table(tmp_path / "out").to_pandas()
    store = Store(tmp_path / "out")
    rows = store.rows().to_pylist()
    for name in store.names():
        (tmp_path / "out" / "parts" / name).unlink()
    store.write(rows[::-1])
    assert sweep(runs, tmp_path / "out", workers=1).reused == 36
    pd.testing.assert_frame_equal(batches.table(tmp_path / "out").to_pandas(), before)


HOURLY = batches.SMALL.replace("keep: {", "keep: {hourly: [p_ac, v_dc], ")


def test_hours_are_kept_when_asked_for_in_one_file_a_part(tmp_path):
    runs = batches.batch(tmp_path, batches.SMALL)
    assert sweep(runs, tmp_path / "out", workers=1).computed == 36
    batches.put_plan(tmp_path, HOURLY, "hours.yaml")
    said = sweep(tmp_path / "hours.yaml", tmp_path / "out", workers=1)
    assert said[:3] == (36, 0, 0)
    store = Store(tmp_path / "out")
    assert len(store.names("hourly")) >= 2
    run = list(runs)[3]
    found = [
        row
        for table in store.tables("hourly")
        for row in table.to_pylist()
        if row["run"] == run.name
    ]
    wanted = yieldkit.simulate(site_of(runs.bases, run))
    assert {(row["variable"], row["of"]) for row in found} == {
        ("p_ac", ""),
        *(("v_dc", name) for name in wanted["tracker"].to_numpy()),
    }
    for row in found:
        values = wanted[row["variable"]]
        values = values.sel(tracker=row["of"]) if row["of"] else values
        np.testing.assert_array_equal(row["values"], values)
        assert row["start"] == str(wanted["time"].to_numpy()[0])[:19]
        assert (row["interval_s"], row["unit"]) == (3600.0, values.attrs["units"])
    assert sweep(tmp_path / "hours.yaml", tmp_path / "out", workers=1).reused == 36
    path = tmp_path / "out" / "hourly" / store.names("hourly")[0]
    path.write_bytes(path.read_bytes()[:-1] + b"?")
    assert 0 < sweep(tmp_path / "hours.yaml", tmp_path / "out", workers=1).computed < 36


def test_a_plan_keeps_what_it_says(tmp_path):
    text = batches.SMALL.replace("monthly: true", "monthly: false, loss_budget: false")
    runs = batches.batch(tmp_path, text)
    sweep(runs, tmp_path / "out", workers=1)
    names = batches.table(tmp_path / "out").column_names
    assert not [name for name in names if name.startswith(("month: ", "loss: "))]
    assert "input: MPPT 1" in names


def test_leftovers_of_killed_runs_are_cleared_after_ten_minutes(tmp_path):
    runs = batches.batch(tmp_path, FAILING)
    sweep(runs, tmp_path / "out", workers=1)
    young, old = (tmp_path / "out" / "parts" / f".part-{name}" for name in ("young", "old"))
    for path in (young, old):
        path.write_bytes(b"half")
    ago = time.time() - 601.0
    os.utime(old, (ago, ago))
    sweep(runs, tmp_path / "out", workers=1)
    assert young.exists()
    assert not old.exists()


def test_whoever_says_stop_keeps_what_is_computed(tmp_path, monkeypatch):
    monkeypatch.setattr("yieldkit.study.batch.parts.TARGET_S", 0.4)
    runs = batches.batch(tmp_path, batches.SMALL)
    said = sweep(runs, tmp_path / "out", workers=1, progress=lambda *_how: True)
    assert 0 < said.computed < 36
    frame = batches.table(tmp_path / "out").to_pandas()
    assert (frame["status"] == "ok").sum() == said.computed
    assert sweep(runs, tmp_path / "out", workers=1)[:2] == (36 - said.computed, said.computed)


def test_a_folder_that_cannot_be_is_told(tmp_path):
    runs = batches.batch(tmp_path, FAILING)
    (tmp_path / "file").write_text("")
    with pytest.raises(InputError, match="got a file, or a path through one; expected a folder"):
        sweep(runs, tmp_path / "file", workers=1)


def test_rows_tell_what_their_run_is_made_of(done):
    runs, folder, _, _ = done
    rows = {row["run"]: row for row in Store(folder / "out").rows().to_pylist()}
    run = next(iter(runs))
    row = rows[run.name]
    assert json.loads(row["changes"]) == [list(each) for each in run.changes]
    for what, said in run.made_of:
        assert row[f"made: {what}"] == said
