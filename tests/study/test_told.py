"""What counts for nothing is said among the assumptions."""

from tests.study.sites import variant, weather
from yieldkit.study.assumptions import site_assumptions


def test_what_is_stated_and_not_used_is_said():
    site = variant(
        {"notes": "Seen on the roof.", "module_types.0.power_tolerance_percent": [0.0, 3.0]}
    )
    said = "\n".join(site_assumptions(site, weather(), {}))
    for words in (
        "Remarks of the site file: Seen on the roof.",
        "the datasheet's power tolerance of +0 to +3 % is not used; modules have their rated power",
        "half-cut cells; not used, for all cells of a module are lit alike.",
        "Read and not used: air pressure and relative humidity.",
        "Inverter: Three-tracker inverter 15 kW (invented).",
    ):
        assert words in said
    silent = "\n".join(site_assumptions(variant(), weather(), {}))
    assert "power tolerance" not in silent
    assert "Remarks" not in silent
