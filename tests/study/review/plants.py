"""Five sites whose invented years are reviewed, by name, each with the wiring that is looked at."""

from functools import cache

import yieldkit
from tests.study.sites import string, variant, wiring


@cache
def plants():
    """Return sites and wirings by name."""
    demo = yieldkit.load_site()
    two = yieldkit.load_site("site_configs/two_inverters.yaml")
    # The invented logs know no limit of export.
    two = two.variant({"grid.export_limit_w": None})
    own = {
        "in the north": {
            "site.latitude": 60.0,
            "site.longitude": 25.0,
            "site.time_zone": "UTC+02:00",
            "planes.0.tilt_deg": 40.0,
            "planes.1.tilt_deg": 40.0,
        },
        "in the south": {
            "site.latitude": -33.0,
            "site.longitude": 19.0,
            "site.time_zone": "UTC+02:00",
            "planes.0.azimuth_deg": 300.0,
            "planes.1.azimuth_deg": 60.0,
            "planes.2.azimuth_deg": 5.0,
        },
        "flat": {
            "planes.0.tilt_deg": 12.0,
            "planes.1.tilt_deg": 12.0,
            "planes.2.tilt_deg": 15.0,
        },
    }
    one = wiring(
        "one string each",
        MPPT_1=[string(("west roof", 13))],
        MPPT_2=[string(("east roof", 14))],
        MPPT_3=[string(("dormer", 7))],
    )
    found = {"demo": (demo, demo.wirings[0]), "two inverters": (two, two.wirings[0])}
    for name, changes in own.items():
        site = variant(changes, wirings=[one])
        found[name] = site, site.wirings[0]
    return found
