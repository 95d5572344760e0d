"""A small sound site to break, and the sentences that come back."""

import copy

import pytest

from yieldkit.base.errors import InputError
from yieldkit.config.reading.changes import changed
from yieldkit.config.site.files import read_site_text, site_from_mapping

TEXT = """\
schema_version: 1
invented: true
site:
  name: Shed (invented)
  latitude: 52.0
  longitude: 13.0
  altitude_m: 40
  time_zone: UTC+01:00
  design_temperatures: {lowest_ambient_c: -17, highest_ambient_c: 36}
weather: {file: typical-year-45n-8e, format: canonical}
module_types:
  - name: M540
    source: datasheet
    technology: mono-si
    p_max_w: 540
    v_oc_v: 49.5
    i_sc_a: 13.85
    v_mp_v: 41.65
    i_mp_a: 12.97
    cells_in_series: 72
    alpha_sc: 0.05 %/K
    beta_voc: -0.28 %/K
    gamma_pmp: -0.35 %/K
planes:
- {name: west, tilt_deg: 30, azimuth_deg: 270, modules: 24, module_type: M540, mounting: open-rack}
- {name: east, tilt_deg: 30, azimuth_deg: 90, modules: 12, module_type: M540, mounting: open-rack}
inverter:
  name: Inverter (invented)
  mppts:
    - name: A
      connectors: 2
      max_voltage_v: 1000
      start_voltage_v: 180
      stop_voltage_v: 140
      mpp_voltage_min_v: 160
      mpp_voltage_max_v: 850
      max_input_current_a: 26
      short_circuit_rating_a: 40
    - name: B
      connectors: 1
      max_voltage_v: 1000
      start_voltage_v: 180
      mpp_voltage_min_v: 160
      mpp_voltage_max_v: 850
  ac: {nominal_power_w: 15000, phases: 3, nominal_voltage_v: 230}
  efficiency:
    kind: table
    loads: [0.1, 0.5, 1.0]
    voltages_v: [300, 600]
    values:
      - [0.95, 0.97, 0.965]
      - [0.96, 0.98, 0.975]
  derating:
    - {temp_inlet_c: 45, max_power_w: 15000}
    - {temp_inlet_c: 60, max_power_w: 9000}
wirings:
  - name: plain
    trackers:
      - mppt: A
        strings:
          - groups: [{plane: west, modules: 12}]
          - groups: [{plane: west, modules: 12}]
      - mppt: B
        strings:
          - groups: [{plane: east, modules: 12}]
"""

SITE = read_site_text(TEXT)
MAPPING = SITE.model_dump(exclude_defaults=True)


def mapping():
    """Return the small site as keys and values of one's own."""
    return copy.deepcopy(MAPPING)


def with_changes(**changes):
    """Return the small site with parts replaced, unchecked; paths are written with "__"."""
    return changed(mapping(), {path.replace("__", "."): value for path, value in changes.items()})


def refusal(content):
    """Return the error that content (a mapping or text) is refused with."""
    read = read_site_text if isinstance(content, str) else site_from_mapping
    with pytest.raises(InputError, match="expected") as caught:
        read(content)
    return caught.value


def only_problem(content):
    """Return the one problem that content is refused with."""
    problems = refusal(content).problems
    assert len(problems) == 1, "\n".join(each.sentence() for each in problems)
    return problems[0]


def sentence(content):
    """Return the one sentence that content is refused with."""
    return only_problem(content).sentence()
