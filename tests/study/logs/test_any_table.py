"""Whatever a log's tables look like, and however their rows lie, it is the same log."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import yieldkit
from tests.amounts import amount
from tests.study.logs.tables import columns_of, described, readings, site, written

STEPS = {minutes: readings("2026-10-24", 2, pd.Timedelta(minutes=minutes)) for minutes in (10, 60)}
FORMS = st.sampled_from(
    [
        (",", ".", "%Y-%m-%d %H:%M"),
        (";", ",", "%d.%m.%Y %H:%M"),
        ("\t", ",", "%Y/%m/%d %H:%M:%S"),
        ("|", ".", "%d %B %Y %H:%M"),
        (";", ".", "%m/%d/%Y %I:%M %p"),
    ]
)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("tables")


@settings(max_examples=amount(15, 400))
@given(
    form=FORMS,
    minutes=st.sampled_from([*STEPS]),
    label=st.sampled_from(["start", "middle", "end"]),
    zone=st.sampled_from(["UTC+01:00", "UTC-05:00", "Europe/Berlin"]),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "cp1252"]),
    order=st.sampled_from(["rising", "falling", "shuffled"]),
    parts=st.integers(1, 3),
    noise=st.booleans(),
    gone=st.sets(st.integers(1, 286), max_size=40),
    seed=st.integers(0, 99),
)
def test_a_log_is_the_same(
    folder, form, minutes, label, zone, encoding, order, parts, noise, gone, seed
):
    separator, decimal, stamp = form
    table = STEPS[minutes]
    gone = {at for at in gone if at < len(table) - 1}
    text = written(table, separator, decimal, stamp, label, zone)
    head, *lines = text.splitlines()
    # Out of order an hour that the clock shows twice can't be told apart, and is left out.
    double = zone == "Europe/Berlin" and (order == "shuffled" or parts > 1 or bool(gone))
    kept = [line for at, line in enumerate(lines) if at not in gone]
    draw = np.random.default_rng(seed)
    if order == "shuffled":
        draw.shuffle(kept)
    if order == "falling":
        kept.reverse()
    names = [f"{n}.csv" for n in range(parts)]
    cuts = np.array_split(np.arange(len(kept)), parts)
    tables = {}
    for name, own in zip(names, cuts, strict=True):
        rows = [kept[at] for at in own]
        if noise:
            rows.insert(len(rows) // 2, head)
            rows.append(f"total{separator}17")
        tables[name] = "\n".join([head, *rows]).encode(encoding)
    clock = "wall" if zone == "Europe/Berlin" else None
    path = described(
        folder,
        tables,
        {"ghi": "G", "temp_air": "Ta"},
        columns_of(),
        **{"zone": zone, "label": label, "clock": clock},
    )
    log = yieldkit.read_log(path, site())
    np.testing.assert_array_equal(log.data["time"], table.index)
    sure = np.ones(len(table), dtype=bool)
    sure[list(gone)] = False
    if double:
        utc = table.index.strftime("%m-%d %H:%M")
        sure &= ~((utc >= "10-24 23:00") & (utc <= "10-25 02:30"))
    columns = {"v_ac": ["Uac"], "p_ac": ["Pac"]}
    columns |= {"v_dc": ["U1", "U2", "U3"], "i_dc": ["I1", "I2", "I3"]}
    for quantity, names in columns.items():
        own = table[names].to_numpy()
        found = log.data[quantity].values
        there = ~np.isnan(found)
        assert there[sure].all()
        np.testing.assert_array_equal(found[there], own[there])
    np.testing.assert_array_equal(log.weather["ghi"].values[sure], table["G"][sure])
    lacking = np.isnan(log.data["v_dc"]).values.any(axis=1)
    assert not lacking[sure].any()
    assert lacking[list(gone)].all()
    assert not log.counted[lacking].any()
