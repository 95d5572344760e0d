"""Sites written as YAML, to be read back."""

import io
from collections.abc import Mapping

from ruamel.yaml import YAML


def dump_site(site):
    """Return a site as YAML text that `load_site` reads back to an equal site.

    Parameters
    ----------
    site : Site
        The site; values that equal their default are left out.
    """
    yaml = YAML(typ="safe", pure=True)
    yaml.default_flow_style = False
    yaml.allow_unicode = True
    yaml.width = 10_000
    yaml.sort_base_mapping_type_on_output = False
    stream = io.StringIO()
    yaml.dump(_listed(site.model_dump(exclude_defaults=True)), stream)
    return stream.getvalue()


def _listed(value):
    if isinstance(value, Mapping):
        return {key: _listed(each) for key, each in value.items() if each is not None}
    if isinstance(value, list | tuple):
        return [_listed(each) for each in value]
    return value
