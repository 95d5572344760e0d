"""The main job: a simulated year against pvlib's ModelChain, and a comparison of four wirings."""

import warnings

import pandas as pd
from pvlib.location import Location
from pvlib.modelchain import ModelChain
from pvlib.pvsystem import Array, FixedMount, PVSystem

import yieldkit
from benchmarks.timing import best_of, best_of_pair
from yieldkit.design.modules import fit_module_type
from yieldkit.study.weather import site_weather


def model_chain(site: yieldkit.Site) -> ModelChain:
    """Return pvlib's own chain for the site's planes as three arrays without mismatch.

    Every array is one string of its plane's modules at its own maximum; the models are those of
    the site (sun, transposition, incidence, cells, diode), the inverter is one efficiency.
    """
    diode = fit_module_type(site.module_types[0]).reference
    module = {
        "alpha_sc": diode.alpha_sc,
        "a_ref": diode.n_ns_vth,
        "I_L_ref": diode.photocurrent,
        "I_o_ref": diode.saturation_current,
        "R_sh_ref": diode.resistance_shunt,
        "R_s": diode.resistance_series,
        "EgRef": diode.eg_ref,
        "dEgdT": diode.deg_dt,
    }
    arrays = [
        Array(
            FixedMount(plane.tilt_deg, plane.azimuth_deg),
            module_parameters=module,
            temperature_model_parameters={"u0": 20.0, "u1": 3.2},
            modules_per_string=plane.modules,
            strings=1,
            name=plane.name,
        )
        for plane in site.planes
    ]
    system = PVSystem(arrays, inverter_parameters={"pdc0": 15_500.0, "eta_inv_nom": 0.975})
    place = Location(site.site.latitude, site.site.longitude, altitude=site.site.altitude_m)
    return ModelChain(
        system,
        place,
        transposition_model="perez-driesse",
        aoi_model="physical",
        spectral_model="no_loss",
        temperature_model="faiman",
        dc_model="desoto",
        ac_model="pvwatts",
        losses_model="no_loss",
    )


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
