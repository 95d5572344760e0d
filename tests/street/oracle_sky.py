"""A second opinion on sun, planes and cell temperatures, written on pvlib and numpy alone.

Written from the published models and the site file's words; it imports nothing of the product.
"""

import numpy as np
import pandas as pd
from pvlib import atmosphere, iam, irradiance, solarposition, temperature

_WIND_EXPONENT = 1.0 / 7.0  # power law over open terrain; common practice, from memory
_HEAT_LOSS = {
    # Faiman (2008), Prog. Photovolt. 16, 307-315; read.
    "open-rack": (25.0, 6.84),
    # Between free-standing and close to a roof; common practice, no source.
    "flat-roof-rack": (25.0, 4.5),
    "facade": (20.0, 3.2),
    # King et al. (2004), SAND2004-3535, close mount and insulated back, linearised in wind and
    # brought from 10 m to 2 m; computed.
    "roof-parallel": (19.3, 1.26),
    "integrated": (16.6, 1.0),
}
"""u0 [W/m2/K] and u1 [W s/m3/K] of IEC 61853-2 by way of mounting, wind at 2 m."""
_BEAM_LOSS = {"fresnel": iam.physical, "ashrae": iam.ashrae, "martin-ruiz": iam.martin_ruiz}


def sun(table: pd.DataFrame, place: dict, offset_min: float | None = None) -> pd.DataFrame:
    """Return the sun at the middle of the sunlit part of each step, by sampling each minute.

    Parameters
    ----------
    table : DataFrame
        Weather, index in UTC at the start of each step.
    place : dict
        `latitude`, `longitude`, `altitude_m`.
    offset_min : float, optional
        Where values are snapshots: minutes from the index to their instant.
    """
    where = (place["latitude"], place["longitude"], place["altitude_m"])
    step = table.index[1] - table.index[0]
    if offset_min is not None:
        return position(table.index + pd.Timedelta(minutes=offset_min), where)
    edges = table.index.append(table.index[-1:] + step)
    up = (position(edges, where)["zenith"] < 90.0).to_numpy()
    at = (table.index + step / 2).tz_convert(None).to_numpy().astype("datetime64[ns]").copy()
    minutes = np.arange(0.0, step.total_seconds() / 60.0, 0.5) + 0.25
    crossing = np.flatnonzero(up[:-1] != up[1:])
    if crossing.size:
        starts = table.index[crossing].tz_convert(None).to_numpy().astype("datetime64[ns]")
        fine = starts[:, None] + (minutes * 60e9).astype("timedelta64[ns]")[None, :]
        flat = pd.DatetimeIndex(fine.ravel(), tz="UTC")
        lit = (position(flat, where)["zenith"] < 90.0).to_numpy().reshape(fine.shape)
        centre = (lit * minutes).sum(axis=1) / np.maximum(lit.sum(axis=1), 1)
        at[crossing] = starts + (centre * 60e9).astype("timedelta64[ns]")
    return position(pd.DatetimeIndex(at, tz="UTC"), where)


def position(times: pd.DatetimeIndex, where: tuple[float, float, float]) -> pd.DataFrame:
    return solarposition.get_solarposition(times, where[0], where[1], altitude=where[2])


def split(ghi: np.ndarray, solar: pd.DataFrame, model: str) -> tuple[np.ndarray, np.ndarray]:
    """Return direct normal and diffuse [W/m2] where only global was measured."""
    zenith, days = solar["zenith"].to_numpy(), solar.index.day_of_year
    if model == "erbs":
        parts = irradiance.erbs(ghi, zenith, days)
    else:
        parts = irradiance.erbs_driesse(ghi, zenith, days)
    return np.asarray(parts["dni"]), np.asarray(parts["dhi"])


def plane(table: pd.DataFrame, solar: pd.DataFrame, site: dict, roof: dict) -> dict:
    """Return what falls on a plane, what reaches its cells, and how warm they get.

    Parameters
    ----------
    table : DataFrame
        ghi, dni, dhi [W/m2], temp_air [degC], wind_speed [m/s]; `attrs["wind_height_m"]`.
    solar : DataFrame
        From `sun`.
    site, roof : dict
        The site file, and one of its planes.

    Returns
    -------
    dict
        `poa`, `effective` [W/m2] and `temp_cell` [degC], each (time,), and in `parts` what of
        `effective` is `direct`, the sun's and from round it, the other `sky`'s and the `ground`'s.
    """
    tilt, azimuth = roof["tilt_deg"], roof["azimuth_deg"]
    choice = {"transposition": "perez-driesse", "incidence": "fresnel", **site.get("models", {})}
    zenith = solar["apparent_zenith"].to_numpy()
    ghi, dni, dhi = (table[name].to_numpy() for name in ("ghi", "dni", "dhi"))
    aoi = irradiance.aoi(tilt, azimuth, zenith, solar["azimuth"]).to_numpy()
    beam = np.where(
        (aoi < 90.0) & (zenith < 90.0), dni * np.cos(np.radians(np.minimum(aoi, 90.0))), 0.0
    )
    sky = _sky(choice, tilt, azimuth, solar, (ghi, dni, dhi))
    ground = ghi * site["site"].get("albedo", 0.2) * (1.0 - np.cos(np.radians(tilt))) / 2.0
    open_sky = beam + sky + ground
    near = np.zeros(sky.shape)
    if roof.get("horizon") or "corner_m" in roof:
        near = np.minimum(_near_the_sun(choice, tilt, azimuth, solar, (ghi, dni, dhi)), sky)
    if roof.get("horizon"):
        hidden = solar["apparent_elevation"].to_numpy() < _height(roof, solar["azimuth"].to_numpy())
        beam = np.where(hidden, 0.0, beam)
        far = (sky - near) * _share_in_view(roof)
        near = np.where(hidden, 0.0, near)
        sky = far + near
    through = _BEAM_LOSS[choice["incidence"]]
    loss = iam.marion_diffuse(_PVLIB_WORD[choice["incidence"]], tilt)
    rear = 1.0 + roof.get("rear_gain_percent", 0.0) / 100.0
    kept = (1.0 - roof.get("soiling_loss_percent", 0.0) / 100.0) * rear
    parts = {
        "direct": (beam * np.asarray(through(aoi)) + near * loss["sky"]) * kept,
        "sky": (sky - near) * loss["sky"] * kept,
        "ground": ground * (loss["ground"] if tilt > 0 else 1.0) * kept,
    }
    return {
        "poa": open_sky,
        "effective": parts["direct"] + parts["sky"] + parts["ground"],
        "parts": parts,
        "temp_cell": _warmth(table, roof, (beam + sky + ground) * rear),
    }


def _height(roof: dict, azimuth: np.ndarray) -> np.ndarray:
    """Return the elevation of the horizon at compass degrees [deg]."""
    points = sorted((p["azimuth_deg"], p["elevation_deg"]) for p in roof["horizon"])
    return np.interp(azimuth, *np.array(points).T, period=360.0)


def _share_in_view(roof: dict) -> float:
    """Return the share of an even sky's light on a plane that a horizon leaves, by drawing it."""
    rng = np.random.default_rng(8)
    round_about = rng.uniform(0.0, 360.0, size=1_000_000)
    height = np.degrees(np.arcsin(rng.uniform(size=round_about.size)))
    cosine = np.cos(
        np.radians(
            irradiance.aoi(roof["tilt_deg"], roof["azimuth_deg"], 90.0 - height, round_about)
        )
    )
    weight = np.maximum(cosine, 0.0)
    return float(np.sum(weight * (height > _height(roof, round_about))) / np.sum(weight))


_PVLIB_WORD = {"fresnel": "physical", "ashrae": "ashrae", "martin-ruiz": "martin_ruiz"}


def _sky(
    choice: dict, tilt: float, azimuth: float, solar: pd.DataFrame, light: tuple
) -> np.ndarray:
    """Diffuse light of the sky on a plane; below the horizon half of it is in view."""
    ghi, dni, dhi = light
    zenith, turn = solar["apparent_zenith"].to_numpy(), solar["azimuth"].to_numpy()
    extra = irradiance.get_extra_radiation(solar.index.day_of_year).to_numpy()
    word = choice["transposition"]
    if word == "isotropic":
        found = irradiance.isotropic(tilt, dhi)
    elif word == "hay-davies":
        found = irradiance.haydavies(tilt, azimuth, dhi, dni, extra, zenith, turn)
    elif word == "reindl":
        found = irradiance.reindl(tilt, azimuth, dhi, dni, ghi, extra, zenith, turn)
    else:
        model = irradiance.perez if word == "perez-1990" else irradiance.perez_driesse
        mass = atmosphere.get_relative_airmass(zenith)
        found = model(tilt, azimuth, dhi, dni, extra, zenith, turn, mass)
    plain = dhi * (1.0 + np.cos(np.radians(tilt))) / 2.0
    even = choice.get("isotropic_share", 0.0)
    mixed = (1.0 - even) * np.maximum(np.nan_to_num(found), 0.0) + even * plain
    return np.where(zenith < 95.0, mixed, plain)


def _near_the_sun(
    choice: dict, tilt: float, azimuth: float, solar: pd.DataFrame, light: tuple
) -> np.ndarray:
    """The part of the sky's light that comes from near the sun, as the library splits it."""
    ghi, dni, dhi = light
    zenith, turn = solar["apparent_zenith"].to_numpy(), solar["azimuth"].to_numpy()
    extra = irradiance.get_extra_radiation(solar.index.day_of_year).to_numpy()
    mass = atmosphere.get_relative_airmass(zenith)
    word, place = choice["transposition"], (tilt, azimuth, dhi, dni)
    if word == "isotropic":
        return np.zeros(dhi.shape)
    if word == "hay-davies":
        parts = irradiance.haydavies(*place, extra, zenith, turn, return_components=True)
    elif word == "reindl":
        parts = irradiance.reindl(*place, ghi, extra, zenith, turn, return_components=True)
    else:
        model = irradiance.perez if word == "perez-1990" else irradiance.perez_driesse
        parts = model(*place, extra, zenith, turn, mass, return_components=True)
    share = 1.0 - choice.get("isotropic_share", 0.0)
    return np.where(zenith < 90.0, share * np.nan_to_num(parts["poa_circumsolar"]), 0.0)


def _warmth(table: pd.DataFrame, roof: dict, poa: np.ndarray) -> np.ndarray:
    u0, u1 = (roof.get("heat_loss_factor", 1.0) * u for u in _HEAT_LOSS[roof["mounting"]])
    wind = table["wind_speed"].to_numpy() * (2.0 / table.attrs["wind_height_m"]) ** _WIND_EXPONENT
    return np.asarray(temperature.faiman(poa, table["temp_air"].to_numpy(), wind, u0, u1))


def hot_cell(roof: dict, ambient_c: float) -> float:
    """Return the cell temperature in 1000 W/m2 and 1 m/s [degC]."""
    u0, u1 = _HEAT_LOSS[roof["mounting"]]
    return ambient_c + 1000.0 / (u0 + u1)
