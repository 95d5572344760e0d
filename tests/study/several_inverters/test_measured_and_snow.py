"""Several inverters on planes that were measured, in dirt and in snow."""

import numpy as np
import pytest

from tests.study.checks import budget
from tests.study.several import twice
from tests.study.sites import weather
from yieldkit.base.measured_planes import measured_name
from yieldkit.config.models.weather_source import ColumnMap
from yieldkit.design.permitted.constraints import Constraints
from yieldkit.design.permitted.plane_symmetry import plane_swaps
from yieldkit.study.simulation.simulate import simulate

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def days():
    own = weather().isel(time=slice(24 * 12, 24 * 15))
    return own.assign(rain=("time", np.zeros(own.sizes["time"])))


def test_each_inverters_planes_have_their_own_light_dirt_and_snow(days):
    site = twice()
    bare = simulate(site, weather=days)
    light = 0.5 * bare["poa_global"].sel(plane="west roof too").to_numpy()
    fed = days.assign({measured_name("poa_global", "west roof too"): ("time", light)})
    # Planes go by their names: 3 to 5 are those of the second inverter.
    changes = {"planes.3.soiling_from_rain": {"model": "kimber", "loss_percent_per_day": 3.0}}
    changes["planes.3.slant_height_m"] = 4.0
    changes |= {f"planes.{at}.slant_height_m": 4.0 for at in range(6)}
    changes["site.snow"] = {
        "kind": "by-month",
        "snow_cm": [40.0] * 12,
        "snow_days": [5.0] * 12,
        "relative_humidity_percent": [80.0] * 12,
    }
    result = simulate(site.variant(changes), weather=fed)
    assert result.attrs["budget_closure"] <= 1e-12
    steps = budget(result)
    assert min(steps["soiling"], steps["snow"]) > 0.0
    dc = result["tracker_energy"].to_numpy()
    assert dc[3] < 0.7 * dc[0]
    np.testing.assert_array_equal(
        result["poa_global"].sel(plane="west roof"), bare["poa_global"].sel(plane="west roof")
    )


def test_a_measured_plane_is_exchanged_with_no_other():
    site = twice()
    everything = Constraints()
    assert plane_swaps(site, everything) != []
    columns = {"time": "T", "ghi": "G", "temp_air": "A", "poa_global": {"west roof": "G_W"}}
    declared = site.weather.model_copy(update={"columns": ColumnMap.model_validate(columns)})
    swaps = plane_swaps(site.model_copy(update={"weather": declared}), everything)
    assert swaps != []
    west = [plane.name for plane in site.planes].index("west roof")
    assert all(swap.get(west, west) == west for swap in swaps)
