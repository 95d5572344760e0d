"""Logs of the demonstration's plant, written as anybody's loggers write them."""

import numpy as np
import pandas as pd

from tests.study import sites

INPUTS = ("MPPT 1", "MPPT 2", "MPPT 3")
STEP = pd.Timedelta("10min")
ZONE = "UTC+01:00"


def readings(day="2026-06-21", days=1, step=STEP):
    """Return plausible readings by column name; index: starts of steps, naive UTC.

    A bright day, its light as a half wave; inputs differ, so that none is another's copy.
    """
    start = pd.Timestamp(day) - pd.Timedelta(hours=1)
    time = pd.date_range(start, start + pd.Timedelta(days=days), freq=step, inclusive="left")
    hour = (time + step / 2 + pd.Timedelta(hours=0.55)).hour
    hour = hour + (time + step / 2 + pd.Timedelta(hours=0.55)).minute / 60.0
    light = np.clip(np.sin((hour - 4.5) / 15.0 * np.pi), 0.0, None)
    table = {}
    for number, (volts, amperes) in enumerate(((420.0, 18.0), (430.0, 9.5), (215.0, 9.0)), 1):
        on = light > 0.0
        u = np.round(np.where(on, volts + 15.0 * light - number, 0.0), 1)
        i = np.round(amperes * light, 2)
        table |= {f"U{number}": u, f"I{number}": i, f"P{number}": np.round(u * i)}
    table["Pac"] = np.round(0.96 * sum(table[f"P{number}"] for number in (1, 2, 3)))
    # At night as well no step is like the next.
    table["Uac"] = np.round(229.0 + 4.0 * light + 0.1 * (np.arange(len(time)) % 23), 1)
    table["G"] = np.round(950.0 * light, 1)
    table["T"] = np.round(18.0 + 30.0 * light, 1)
    table["Ta"] = np.round(18.0 + 6.0 * light, 1)
    return pd.DataFrame(table, index=time)


def written(
    table,
    separator=",",
    decimal=".",
    stamp="%Y-%m-%d %H:%M",
    label="start",
    zone=ZONE,
    head=None,
    names=None,
):
    """Return a table as CSV text, its times by a clock and label."""
    step = table.index[1] - table.index[0]
    share = {"start": 0.0, "middle": 0.5, "end": 1.0}[label]
    own = table.index + share * step
    if "/" in zone:
        local = own.tz_localize("UTC").tz_convert(zone).tz_localize(None)
    else:
        local = own + pd.Timedelta(hours=int(zone[3:6]))
    lines = [] if head is None else [head]
    lines.append(separator.join(["Time", *(names or table.columns)]))
    for when, row in zip(local.strftime(stamp), table.to_numpy(), strict=True):
        cells = ["" if np.isnan(v) else f"{v:.15g}".replace(".", decimal) for v in row]
        lines.append(separator.join([when, *cells]))
    return "\n".join(lines) + "\n"


def columns_of(*quantities, ac=True):
    """Return the column map of the demonstration's inverter, for these quantities by input."""
    letter = {"v_dc": "U", "i_dc": "I", "p_dc": "P"}
    found = {
        quantity: {name: f"{letter[quantity]}{n}" for n, name in enumerate(INPUTS, 1)}
        for quantity in quantities or letter
    }
    return found | ({"p_ac": "Pac", "v_ac": "Uac"} if ac else {})


def described(folder, tables, columns=None, inverter=None, **keys):
    """Write tables (name to text or bytes) and a description of them; return its path."""
    for name, text in tables.items():
        content = text if isinstance(text, bytes) else text.encode("utf-8")
        (folder / name).write_bytes(content)
    said = {
        "files": list(tables),
        "zone": ZONE,
        "label": "start",
        "columns": {"time": "Time"} | (columns or {}),
        "inverters": [{"columns": columns_of() if inverter is None else inverter}],
    }
    said |= keys
    path = folder / "log.yaml"
    path.write_text(as_yaml({k: v for k, v in said.items() if v is not None}), encoding="utf-8")
    return path


def as_yaml(value):
    """Return plain content as YAML in one line, which JSON's form is."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{as_yaml(k)}: {as_yaml(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(map(as_yaml, value)) + "]"
    if isinstance(value, str):
        return "'" + value.replace("'", "''") + "'"
    return {True: "true", False: "false", None: "null"}.get(value, str(value))


def site():
    """Return the demonstration's site."""
    return sites.demo()
