"""A small estimate that several tests look at, made once."""

from functools import cache

from tests.study.batch.plans import AT_WEATHER
from yieldkit.config.site.files import read_site_text
from yieldkit.study.estimate.estimate import estimate

FORBIDDEN = """\
  - name: too long
    trackers:
      - mppt: A
        strings:
          - groups: [{plane: west, modules: 24}]
"""


@cache
def small_site():
    """Return a shed with two wirings that nothing forbids and one whose voltage is too high."""
    return read_site_text(AT_WEATHER + FORBIDDEN)


@cache
def small_estimate():
    """Return an estimate of it, of 64 draws."""
    return estimate(small_site(), draws=64)
