"""Hundreds of broken site files: only our own error comes out, and it names what it can."""

import random
import re

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.amounts import amount
from tests.config.small import TEXT, mapping
from yieldkit.base.errors import InputError
from yieldkit.base.shipped import shipped
from yieldkit.config.site.files import load_site, read_site_text, site_from_mapping
from yieldkit.config.site.site import Site

pytestmark = pytest.mark.slow

_many = settings(max_examples=amount(400, 2200), suppress_health_check=list(HealthCheck))
_some = settings(max_examples=amount(200, 600), suppress_health_check=list(HealthCheck))

SCALARS = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(),
    st.integers(min_value=10**300, max_value=10**320),
    st.floats(),
    st.sampled_from([0, -0.0, 1e-320, 1e308, -1e308, 5e-324, 2**63, -(2**63), 10**4000]),
    st.text(max_size=8),
    st.sampled_from(["", "-0.28 V/K", "9e99 %/K", "west", "A", "UTC+99", "typical", "a/b", "\x00"]),
    st.sampled_from(["open-rack", "table", "weighted", "datasheet", "cec-list", "series", "csv"]),
)
VALUES = st.recursive(
    SCALARS,
    lambda inner: st.one_of(
        st.lists(inner, max_size=3),
        st.dictionaries(st.sampled_from(["name", "modules", "x", "plane"]), inner, max_size=3),
    ),
    max_leaves=6,
)


def places(node, path=()):
    """Yield the path of every key and entry of content."""
    inner = node.items() if isinstance(node, dict) else enumerate(node) if _is_list(node) else ()
    for key, value in inner:
        yield (*path, key)
        yield from places(value, (*path, key))


def _is_list(node):
    return isinstance(node, list | tuple)


def unfrozen(node):
    """Return content that can be edited."""
    if isinstance(node, dict):
        return {key: unfrozen(value) for key, value in node.items()}
    return [unfrozen(value) for value in node] if _is_list(node) else node


FULL = load_site().model_dump()
PLACES = list(places(FULL))
SMALL_PLACES = list(places(mapping()))


def broken(content, spot, change, value):
    """Return content changed in one place."""
    node = content
    for part in spot[:-1]:
        node = node[part]
    if change == "replace":
        node[spot[-1]] = value
    elif change == "remove":
        del node[spot[-1]]
    elif change == "double" and isinstance(node, list):
        node.append(node[spot[-1]])
    elif change == "rename" and isinstance(node, dict):
        node[str(value)] = node.pop(spot[-1])
    else:
        node.clear()
    return content


def ends_well(read, content):
    """Return whether content is a sound site; anything but our own error is raised."""
    problems = ()
    try:
        site = read(content)
    except InputError as error:
        problems = error.problems or (None,)
    for problem in problems:
        assert problem.where
        assert problem.got
        assert problem.needed
        assert "\x1b" not in problem.sentence()
    return not problems and isinstance(site, Site)


_CHANGES = st.sampled_from(["replace", "replace", "replace", "remove", "double", "rename", "clear"])


@_many
@given(st.sampled_from(PLACES), _CHANGES, VALUES)
def test_one_broken_place_of_the_full_site(spot, change, value):
    ends_well(site_from_mapping, broken(unfrozen(FULL), spot, change, value))


@_many
@given(st.data())
def test_several_broken_places_of_the_small_site(data):
    content = unfrozen(mapping())
    for _ in range(data.draw(st.integers(2, 5))):
        spots = list(places(content))
        if not spots:
            break
        spot = data.draw(st.sampled_from(spots))
        content = broken(content, spot, data.draw(_CHANGES), data.draw(VALUES))
    ends_well(site_from_mapping, content)


@_some
@given(st.text(max_size=60))
def test_any_text(text):
    ends_well(read_site_text, text)


@_some
@given(st.text(alphabet="ab:-[]{},#&*!|>'\"%@`?~ \n\t019.<=", max_size=60))
def test_any_text_of_signs_that_mean_something(text):
    ends_well(read_site_text, text)


@_some
@given(st.dictionaries(st.sampled_from(list(FULL)), VALUES, max_size=6))
def test_any_sections(content):
    ends_well(site_from_mapping, content)


def test_mutated_lines_of_the_small_file():
    draw = random.Random(20261125)
    lines = TEXT.splitlines()
    count = amount(250, 1000)
    sound = sum(ends_well(read_site_text, "\n".join(_mutated(lines, draw))) for _ in range(count))
    assert 0.0 < sound / count < 0.63


def test_every_cut_through_the_small_file():
    for end in range(0, len(TEXT), 29):
        sound = ends_well(read_site_text, TEXT[:end])
        assert not sound or end > TEXT.index("wirings:")


def test_bytes_that_are_no_text(tmp_path):
    draw = random.Random(7)
    raw = shipped("site_configs", "starter.yaml").read_bytes()[:1500]
    file = tmp_path / "site.yaml"
    for _ in range(300):
        spot = draw.randrange(len(raw))
        file.write_bytes(raw[:spot] + draw.randbytes(draw.randrange(1, 4)) + raw[spot + 1 :])
        assert not ends_well(load_site, file)


def _mutated(lines, draw):
    """Return the file's lines with one to three slips a person or an editor might make."""
    lines = list(lines)
    for _ in range(draw.randrange(1, 4)):
        spot = draw.randrange(len(lines))
        line = lines[spot]
        lines[spot] = draw.choice(
            (
                lambda text: " " + text,
                lambda text: text[1:],
                lambda text: text.replace(":", "", 1),
                lambda text: text.replace(": ", ":", 1),
                lambda text: text + draw.choice(("x", "]", "}", "'", '"', ": 1", " #", "\t", "&a")),
                lambda text: re.sub(r"\d+", lambda match: str(-int(match[0])), text, count=1),
                lambda text: re.sub(r"(\d)\.(\d)", r"\1,\2", text),
                lambda text: text + "\n" + text,
                lambda text: "",
                lambda text: "\t" + text.strip(),
                lambda text: text.replace("- ", "-", 1),
                lambda text: "".join(draw.sample(text, len(text))),
                lambda text: draw.choice(lines),
            )
        )(line)
    return lines
