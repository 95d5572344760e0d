"""A service on this machine's own loopback, which answers what it is told to, and keeps count.

The answers are those that pvlib's source archive carries as its test data; what is made up is
called so.
"""

import contextlib
import http.server
import json
import threading
import time
from functools import cache
from urllib.parse import parse_qs, urlsplit

import pandas as pd

from tests.archives import archive


def recorded(name):
    """Return a recorded answer's bytes."""
    return (archive("pvlib==0.16.1") / "tests" / "data" / name).read_bytes()


@cache
def typical_year():
    """Return the recorded answer for the typical year of 45 N 8 E."""
    return recorded("tmy_45.000_8.000_2005_2023.json")


@cache
def invented_hours(year=2019, database="PVGIS-SARAH3", minute=10):
    """Return an invented answer of hourly years, in the form of the recorded one.

    Its light is the recorded typical year's, whatever the minutes written beside it.
    """
    form = json.loads(
        recorded("pvgis_hourly_Timeseries_45.000_8.000_SA2_10kWp_CIS_5_2a_2013_2014.json")
    )
    form["inputs"]["meteo_data"]["radiation_db"] = database
    light = json.loads(typical_year())["outputs"]["tmy_hourly"]
    form["outputs"]["hourly"] = [
        {
            "time": f"{year}{hour['time(UTC)'][4:11]}{minute:02d}",
            "Gb(i)": hour["G(h)"] - hour["Gd(h)"],
            "Gd(i)": hour["Gd(h)"],
            "Gr(i)": 0.0,
            "H_sun": 0.0,
            "T2m": hour["T2m"],
            "WS10m": hour["WS10m"],
            "Int": 0.0,
        }
        for hour in light
    ]
    return json.dumps(form).encode()


@cache
def invented_power(year=2019, hours_late=0):
    """Return an invented answer of NASA POWER in the form pvlib's reader wants.

    pvlib's archive holds none; the light is NSRDB's recorded year as hourly means at its place,
    or what it is so much later.
    """
    rows = _nsrdb_rows()
    # Means of each hour from the snapshots at its ends and its middle; the recorded clock is seven
    # hours behind UTC.
    half = rows.set_index(_times(rows) + pd.Timedelta(hours=7)).sort_index()
    half = half[["GHI", "DNI", "DHI", "Temperature", "Wind Speed"]].astype(float)
    middle = half[half.index.minute == 30]
    ends = half[half.index.minute == 0].set_axis(middle.index, axis="index")
    after = ends.shift(-1).fillna(0.0)
    mean = 0.25 * ends + 0.5 * middle + 0.25 * after
    mean = mean.set_axis(
        mean.index - pd.Timedelta(minutes=30) + pd.Timedelta(hours=hours_late), axis="index"
    )
    mean = mean.set_axis([f"{year}{time:%m%d%H}" for time in mean.index], axis="index")
    mean = mean[~mean.index.duplicated()].sort_index()
    names = ("ALLSKY_SFC_SW_DWN", "ALLSKY_SFC_SW_DNI", "ALLSKY_SFC_SW_DIFF", "T2M", "WS10M")
    table = mean.set_axis(names, axis="columns").round(2)
    table.iloc[3] = -999.0
    content = {
        "geometry": {"type": "Point", "coordinates": [-108.54, 40.53, 705.88]},
        "properties": {"parameter": table.to_dict()},
        "header": {"title": "invented", "fill_value": -999.0},
        "times": {},
        "parameters": {},
    }
    return json.dumps(content).encode()


def _nsrdb_rows():
    lines = recorded("test_read_psm4.csv").decode().splitlines()
    head = lines[2].split(",")
    return pd.DataFrame([line.split(",") for line in lines[3:]], columns=head)


def _times(rows):
    return pd.to_datetime(rows[["Year", "Month", "Day", "Hour", "Minute"]].astype(int))


@cache
def nsrdb_hours():
    """Return NSRDB's recorded year of half hours as an answer of hours: every second row."""
    lines = recorded("test_read_psm4.csv").decode().splitlines()
    kept = [line for line in lines[3:] if line.split(",")[4] == "30"]
    return "\n".join([*lines[:3], *kept, ""]).encode()


@cache
def nsrdb_typical():
    """Return NSRDB's recorded typical year under the recorded head of its hourly answer."""
    head = recorded("test_read_psm4.csv").decode().splitlines()[:2]
    table = recorded("test_psm4_tmy-2023.csv").decode().splitlines()
    return "\n".join([*head, *(line.partition(",")[2] for line in table), ""]).encode()


def answer(body, status=200, kind="application/json", reason=None):
    """Return a way to answer a question with a body; a reason other than the status's own."""

    def send(handler):
        handler.send_response(status, reason)
        handler.send_header("Content-Type", kind)
        handler.send_header("Content-Length", str(len(body)))
        handler.end_headers()
        handler.wfile.write(body)

    return send


def cut_off(body, length=None):
    """Return a way to answer with the first half; without a length nothing tells that it is one."""

    def send(handler):
        handler.send_response(200)
        if length is not None:
            handler.send_header("Content-Length", str(length))
        handler.end_headers()
        handler.wfile.write(body[: len(body) // 2])

    return send


def silence(seconds):
    """Return a way to say nothing for a while."""

    def send(handler):
        time.sleep(seconds)
        handler.close_connection = True

    return send


class Asked:
    """What the service was asked, and how it answers: in turn, the last one for good."""

    def __init__(self, address):
        self.address = address
        self.ways = []
        self.questions = []

    def answer(self, *ways):
        self.ways = list(ways)
        self.questions = []


@contextlib.contextmanager
def service():
    """Give a service that listens on loopback."""

    class Handler(http.server.BaseHTTPRequestHandler):
        def do_GET(self):
            split = urlsplit(self.path)
            query = {key: values[0] for key, values in parse_qs(split.query).items()}
            asked.questions.append((split.path, query))
            way = asked.ways.pop(0) if len(asked.ways) > 1 else asked.ways[0]
            with contextlib.suppress(OSError):
                way(self)

        def log_message(self, *_words):
            """Say nothing."""

    with http.server.ThreadingHTTPServer(("127.0.0.1", 0), Handler) as server:
        server.daemon_threads = True
        asked = Asked(f"http://127.0.0.1:{server.server_address[1]}/")
        thread = threading.Thread(target=server.serve_forever, args=(0.02,), daemon=True)
        thread.start()
        try:
            yield asked
        finally:
            server.shutdown()
            thread.join()
