"""Plans over a small site, written into a folder, and what is said of bad ones."""

from pathlib import Path
from textwrap import dedent

import pytest

from tests.config.small import TEXT
from yieldkit.base.errors import InputError
from yieldkit.study.batch.runs import runs_of

SECOND_TYPE = """\
  - name: M400
    source: datasheet
    technology: mono-si
    p_max_w: 400
    v_oc_v: 37.1
    i_sc_a: 13.7
    v_mp_v: 31.0
    i_mp_a: 12.9
    cells_in_series: 54
    alpha_sc: 0.05 %/K
    beta_voc: -0.28 %/K
    gamma_pmp: -0.35 %/K
planes:
"""
SECOND_WIRING = """\
  - name: crossed
    trackers:
      - mppt: A
        strings:
          - groups: [{plane: west, modules: 12}]
      - mppt: B
        strings:
          - groups: [{plane: west, modules: 6}, {plane: east, modules: 6}]
"""
SITE_TEXT = TEXT.replace("planes:\n", SECOND_TYPE, 1) + SECOND_WIRING
AT_WEATHER = SITE_TEXT.replace("latitude: 52.0", "latitude: 45.0").replace(
    "longitude: 13.0", "longitude: 8.0"
)
"""The same where its weather is from."""


def put_site(folder, text=SITE_TEXT, name="site.yaml"):
    """Write the small site, with two wirings and two module types."""
    path = Path(folder) / name
    path.write_text(text, encoding="utf-8")
    return path


def put_plan(folder, text, name="plan.yaml"):
    """Write a plan."""
    path = Path(folder) / name
    path.write_text(dedent(text), encoding="utf-8")
    return path


def runs_in(folder, text):
    """Return the runs of a plan of the small site."""
    if not (Path(folder) / "site.yaml").exists():
        put_site(folder)
    return runs_of(put_plan(folder, text))


def refusal(folder, text):
    """Return what is said of a plan that is refused."""
    with pytest.raises(InputError, match="expected") as caught:
        runs_in(folder, text)
    return str(caught.value)
