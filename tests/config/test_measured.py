"""What a site file says of measurements on planes, where it can't be so."""

import pytest

from tests.config.small import mapping, sentence
from yieldkit.config.site.files import site_from_mapping

PLAIN = {"time": "T", "ghi": "G", "temp_air": "A"}


def site(sensors=(), **columns):
    """Return the small site with measured columns of its weather."""
    content = mapping()
    weather = {"file": content["weather"]["file"], "format": "csv", "zone": "UTC+01:00"}
    weather |= {"sampling": "mean", "label": "start", "columns": PLAIN | columns}
    return content | {"weather": weather | ({"sensors": list(sensors)} if sensors else {})}


def test_measured_planes_are_read_and_written_back():
    columns = {"poa_global": {"west": "G_W", "east": "G_E"}, "temp_cell": {"west": "T_W"}}
    sensors = [{"plane": "east", "kind": "reference-cell", "gain": 1.02}]
    read = site_from_mapping(site(sensors, **columns))
    assert read.weather.measured_planes == {"west", "east"}
    assert read.weather.sensors[0].kind == "reference-cell"
    again = site_from_mapping(read.model_dump(exclude_defaults=True))
    assert again == read
    hash(read.weather)
    other = read.variant({"weather.columns.poa_global.east": "other"})
    assert dict(other.weather.columns.poa_global)["east"] == "other"


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (
            site(poa_global={"wst": "G_W"}),
            "weather.columns.poa_global.wst: got measurements of the plane 'wst'; expected a plane "
            "of this site: one of 'west', 'east'. Did you mean 'west'?",
        ),
        (
            site(temp_module={"west": "M"}, temp_cell={"west": "C"}),
            "weather.columns.temp_cell.west: got temp_cell of 'west' beside its temp_module; "
            "expected one temperature of a plane: that of its cells, or that of its modules' back. "
            "Leave one of them out.",
        ),
        (
            site(poa_global="G_W"),
            "weather.columns.poa_global: got 'G_W'; expected planes with their columns, such as "
            "{east: G_E, west: G_W}",
        ),
        (
            site(ghi=None, poa_global={"west": "G_W"}),
            "weather.columns: got no 'ghi', and no poa_global of 'east'; expected a column of "
            "global irradiance, or light measured on every plane. Write ghi: ... with the file's "
            "name for it",
        ),
        (
            site([{"plane": "east"}], poa_global={"west": "G_W"}),
            "weather.sensors.0.plane: got a sensor of 'east', whose light isn't read; expected a "
            "sensor of a plane in weather.columns.poa_global. Write poa_global: {east: ...} with "
            "the file's name of its column.",
        ),
        (
            site([{"plane": "north"}], poa_global={"west": "G_W"}),
            "weather.sensors.0.plane: got measurements of the plane 'north'; expected a plane of "
            "this site: one of 'west', 'east'",
        ),
        (
            site([{"plane": "west"}, {"plane": "west"}], poa_global={"west": "G_W"}),
            "weather.sensors.1.plane: got another sensor of 'west'; expected one sensor for each "
            "plane",
        ),
        (
            site([{"plane": "west", "gain": 15}], poa_global={"west": "G_W"}),
            "weather.sensors.0.gain: got 15; expected a number of at most 2",
        ),
        (
            site([{"plane": "west", "kind": "pyranometr"}], poa_global={"west": "G_W"}),
            "weather.sensors.0.kind: got 'pyranometr'; expected one of 'pyranometer', "
            "'reference-cell'",
        ),
    ],
)
def test_measurements_that_cannot_be_are_refused(content, said):
    assert said in sentence(content)
