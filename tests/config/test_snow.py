"""Snow that can't be, and what its models need to know."""

import pytest

from tests.config.small import mapping, refusal, sentence
from yieldkit.config.site.files import site_from_mapping

MONTHS = {
    "kind": "by-month",
    "snow_cm": [10.0] * 12,
    "snow_days": [2.0] * 12,
    "relative_humidity_percent": [80.0] * 12,
}


def site(snow, weather=None, **plane):
    """Return the small site with snow, its planes 4 m along the slope unless said."""
    content = mapping()
    planes = [dict(each) | {"slant_height_m": 4.0} | plane for each in content["planes"]]
    planes = [{key: value for key, value in each.items() if value is not None} for each in planes]
    place = content["site"] | {"snow": snow}
    return content | {"site": place, "planes": planes} | ({"weather": weather} if weather else {})


def test_snow_is_read():
    assert site_from_mapping(site(MONTHS)).site.snow.snow_cm == (10.0,) * 12
    laid = {"layout": "portrait"}
    content = site({"kind": "from-snowfall"}, slant_height_m=None, **laid)
    for plane in content["planes"]:
        plane["drawing"] = ["M" * plane["modules"]]
    content["module_types"] = [content["module_types"][0] | {"length_m": 2.0, "width_m": 1.0}]
    assert site_from_mapping(content).site.snow.slides_per_h == 0.197


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (
            site(MONTHS | {"snow_cm": [10.0] * 11}),
            "site.snow.snow_cm: got a list of 11; expected 12 heights of fallen snow, one "
            "for each month from January on",
        ),
        (
            site(MONTHS | {"snow_days": [2.0] * 13}),
            "snow_days: got a list of 13; expected 12 numbers of days, one for each month from",
        ),
        (
            site(MONTHS | {"snow_days": [2.0] * 11 + [40.0]}),
            "got 40; expected a number of at most 31",
        ),
        (
            site(MONTHS | {"snow_cm": [10.0, 0.6] + [10.0] * 10, "snow_days": [4.0] * 12}),
            "site.snow.snow_cm.1: got 0.6 cm with 4 days of more than 2.5 cm in February; expected "
            "at least 10 cm. In metres?",
        ),
        (
            site(MONTHS | {"snow_days": [2.0] * 11 + [5.0]}),
            "got 10 cm with 5 days of more than 2.5 cm in December; expected at least 12.5 cm.",
        ),
        (
            site(MONTHS | {"relative_humidity_percent": [0.8] * 11 + [0.75]}),
            "site.snow.relative_humidity_percent: got 0.75 to 0.8 %; expected percent. Written as "
            "shares? Write 80 in place of 0.8, and so on.",
        ),
        (
            site({"kind": "by-day"}),
            "site.snow.kind: got 'by-day'; expected one of 'by-month', 'from-snowfall'",
        ),
    ],
)
def test_snow_that_cannot_be_is_refused(content, said):
    assert said in sentence(content)


def test_what_snow_needs_is_asked_for_plane_by_plane():
    said = [each.sentence() for each in refusal(site(MONTHS, slant_height_m=None)).problems]
    assert len(said) == 2
    assert (
        "planes.0: got no drawing or positions and no layout and no length_m and no width_m of "
        "plane 'west', with snow by-month; expected slant_height_m, or where the modules lie and "
        "how large they are. Write slant_height_m: the modules' length along the slope in metres."
        in said[0]
    )
    said = [each.sentence() for each in refusal(site({"kind": "from-snowfall"})).problems]
    assert (
        "of plane 'west', with snow from-snowfall; expected where the modules lie and how large "
        "they are: snow leaves the upper rows first. Write them, or give snow by month." in said[0]
    )


def test_a_table_needs_a_column_of_snowfall():
    weather = {"file": "typical-year-45n-8e", "format": "csv", "zone": "UTC+01:00"}
    weather |= {"sampling": "mean", "label": "start"}
    weather["columns"] = {"time": "T", "ghi": "G", "temp_air": "A"}
    said = [each.sentence() for each in refusal(site({"kind": "from-snowfall"}, weather)).problems]
    assert any(
        "site.snow: got snow from-snowfall, and no column of it; expected snowfall in cm for each "
        "step, as snowfall in weather.columns. Take weather that has it, or give snow by month."
        in text
        for text in said
    )
