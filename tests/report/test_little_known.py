"""The site that `yieldkit new` writes, nothing optional filled in: its report can be drawn."""

import pytest

from yieldkit.config.site.files import load_site, new_site_text
from yieldkit.report.figures import voltages as figures_voltage
from yieldkit.report.tables import design as tables_design
from yieldkit.study.comparison.compare import compare
from yieldkit.study.comparison.lead_sizes import lead_options
from yieldkit.study.simulation.trackers import Solutions

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    folder = tmp_path_factory.mktemp("new")
    (folder / "my.yaml").write_text(new_site_text(), encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def little(folder, june):
    return compare(load_site(folder / "my.yaml"), june)


def test_strings_without_cold_and_hot_voltages_stand_in_the_ladder(little):
    picture = figures_voltage.voltages_picture(little)
    assert "12 east (MPPT 1): cold and hot voltages NOT CHECKED, maximum 1000 V." in picture.alt
    assert picture.figure.axes[0].get_xlim() == (0.0, 1040.0)


def test_tables_of_what_is_not_known_are_drawn(little):
    table = tables_design.lead_table(little, little.details())
    assert "No AC lead is described" in table._repr_html_()
    tables_design.lengths_table(little)


def test_cross_sections_are_weighed_with_the_weather_beside_the_site_file(folder, june):
    (folder / "sun.csv").write_text("x\n")
    text = new_site_text().replace("typical-year-45n-8e", "sun.csv")
    (folder / "own.yaml").write_text(
        text.replace("standards:", "grid: {lead: {length_m: 18, cross_section_mm2: 6}}\nstandards:")
    )
    site = load_site(folder / "own.yaml")
    prepared = compare(site, june).prepared
    table = lead_options(prepared, site.wirings[0], Solutions())
    drawn = table["cross_section_mm2"] == 6.0
    assert table.loc[drawn, "gain_kwh"].tolist() == [0.0]
    assert (table["lead_kwh"].diff().dropna() < 0.0).all()
