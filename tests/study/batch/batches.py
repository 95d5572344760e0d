"""A small batch in a folder of its own: a site, a few days of weather in two files, and plans."""

import shutil
from pathlib import Path
from textwrap import dedent

import numpy as np
import pandas as pd
import pyarrow.parquet as pq

import yieldkit
from tests.study.sites import weather as demo_weather
from yieldkit.base.shipped import shipped
from yieldkit.study.batch.runs import runs_of

DAYS = slice(24 * 170, 24 * 175)
SECOND_TYPE = """\
  - name: M410 (invented)
    source: datasheet
    technology: mono-si
    p_max_w: 410
    v_oc_v: 38.0
    i_sc_a: 13.6
    v_mp_v: 31.8
    i_mp_a: 12.9
    cells_in_series: 54
    alpha_sc: 0.045 %/K
    beta_voc: -0.27 %/K
    gamma_pmp: -0.34 %/K
    cell_layout: half-cut
    bypass_diodes: 3
planes:
"""
WEATHER = """\
weather:
  file: days.csv
  format: csv
  zone: UTC+01:00
  sampling: mean
  label: start
  columns: {time: when, ghi: global, dni: beam, dhi: diffuse, temp_air: air, wind_speed: wind}
"""


def put_days(path, warmer=0.0, brighter=1.0):
    """Write five days of June as a CSV file."""
    days = demo_weather().isel(time=DAYS)
    local = pd.DatetimeIndex(days.indexes["time"]) + pd.Timedelta(hours=1)
    frame = pd.DataFrame({"when": local.strftime("%Y-%m-%d %H:%M")})
    names = {"ghi": "global", "dni": "beam", "dhi": "diffuse"}
    for name, column in names.items():
        frame[column] = (days[name].to_numpy() * brighter).round(2)
    frame["air"] = (days["temp_air"].to_numpy() + warmer).round(2)
    frame["wind"] = days["wind_speed"].to_numpy().round(2)
    frame.to_csv(path, index=False)
    return Path(path)


def put_site(folder, name="site.yaml"):
    """Write the demonstration's site with the days as its weather and a second module type."""
    folder = Path(folder)
    text = shipped("site_configs", "demo.yaml").read_text(encoding="utf-8")
    before, after = text.split("weather:\n", 1)
    after = after.split("module_types:\n", 1)[1].replace("planes:\n", SECOND_TYPE, 1)
    lines = [line for line in after.splitlines() if "drawing:" not in line]
    lines = [line for line in lines if "cable_exit:" not in line]
    whole = before + WEATHER + "module_types:\n" + "\n".join(lines) + "\n"
    path = folder / name
    path.write_text(whole, encoding="utf-8")
    put_days(folder / "days.csv")
    put_days(folder / "warm.csv", warmer=6.0, brighter=0.93)
    return path


def put_plan(folder, text, name="plan.yaml"):
    """Write a plan."""
    path = Path(folder) / name
    path.write_text(dedent(text), encoding="utf-8")
    return path


def batch(folder, text):
    """Return the runs of a plan in a folder that has the site."""
    if not (Path(folder) / "site.yaml").exists():
        put_site(folder)
    return runs_of(put_plan(folder, text))


SMALL = """\
base: site.yaml
axes:
  - {kind: key, name: tilt, path: planes.west roof.tilt_deg, values: [20, 28, 35]}
  - {kind: key, name: lead, path: grid.lead.length_m, values: [6, 18, 40]}
  - {kind: key, name: soiling, path: planes.west roof.soiling_loss_percent, values: [0, 3]}
wirings: [one plane per tracker, lopsided]
keep: {monthly: true, trackers: true}
"""
"""36 runs."""


def table(folder, name="runs.parquet"):
    """Return a folder's table of runs."""
    return pq.read_table(Path(folder) / name)


def same_tables(left, right):
    """Return whether two folders' tables say the same of every run, to the last bit."""
    return table(left).equals(table(right))


def clear(folder):
    """Remove a folder."""
    shutil.rmtree(folder, ignore_errors=True)


def oracle_row(site):
    """Return what a row must say, from `simulate` alone: its Dataset, summed with pandas."""
    result = yieldkit.simulate(site)
    row = {name: float(result.attrs[name]) for name in ("energy_kwh", "kwp", "kwh_per_kwp")}
    row |= {name: float(result.attrs[name]) for name in ("clipped_hours", "derated_hours")}
    for name in ("load_kwh", "self_use_kwh", "export_kwh", "import_kwh"):
        row[name] = float(result.attrs[name])
    for step, energy in result["loss_budget"].to_series().items():
        row[f"loss: {step}"] = float(energy)
    row["nameplate_kwh"] = float(result["potential"].sel(stage="nameplate"))
    for name, energy in result["tracker_energy"].to_series().items():
        row[f"input: {name}"] = float(energy)
    hours = float(result.attrs["interval_s"]) / 3600.0 / int(result.attrs["years_averaged"])
    local = pd.DatetimeIndex(result.indexes["time"]) + pd.Timedelta(
        seconds=int(result.attrs["utc_offset_s"])
    )
    power = pd.Series(result["p_delivered"].to_numpy(), index=local).dropna()
    for month, each in power.groupby(power.index.month):
        name = pd.Timestamp(2001, month, 1).strftime("%b")
        row[f"month: {name}"] = float(np.sum(each.to_numpy())) * hours / 1000.0
    row["site_sha256"] = result.attrs["site_sha256"]
    row["weather_sha256"] = result.attrs["weather_sha256"]
    return row
