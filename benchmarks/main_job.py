"""The main job: a simulated year against pvlib's ModelChain, and a comparison of four wirings."""

import warnings

import pandas as pd
from pvlib.modelchain import ModelChain
from pvlib.pvsystem import Array, FixedMount

import yieldkit
from benchmarks.library_chain import diode_parameters, library_chain
from benchmarks.timing import best_of, best_of_pair
from yieldkit.study.simulation.weather import site_weather


def model_chain(site: yieldkit.Site) -> ModelChain:
    """Return pvlib's own chain for the site's planes as three arrays without mismatch.

    Every array is one string of its plane's modules at its own maximum; the models are those of
    the site (sun, transposition, incidence, cells, diode), the inverter is one efficiency.
    """
    arrays = [
        Array(
            FixedMount(plane.tilt_deg, plane.azimuth_deg),
            module_parameters=diode_parameters(site),
            temperature_model_parameters={"u0": 20.0, "u1": 3.2},
            modules_per_string=plane.modules,
            strings=1,
            name=plane.name,
        )
        for plane in site.planes
    ]
    return library_chain(site, arrays, {"pdc0": 15_500.0, "eta_inv_nom": 0.975})


def run() -> dict[str, float]:
    """Return the time ratio of a year and the time of a comparison without report."""
    site = yieldkit.load_site()
    weather = site_weather(site)
    columns = ["ghi", "dni", "dhi", "temp_air", "wind_speed"]
    frame = pd.DataFrame(
        {name: weather[name].to_numpy() for name in columns},
        index=pd.DatetimeIndex(weather.indexes["time"]).tz_localize("UTC"),
    )
    chain = model_chain(site)

    def baseline() -> None:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            chain.run_model(frame)

    ours, theirs = best_of_pair(lambda: yieldkit.simulate(site, weather=weather), baseline)
    return {
        "simulate_vs_modelchain_time_ratio": ours / theirs,
        "simulate_one_wiring_s": ours,
        "modelchain_three_arrays_s": theirs,
        "compare_four_wirings_s": best_of(lambda: yieldkit.compare(site), runs=3),
    }
