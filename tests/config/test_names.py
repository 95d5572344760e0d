"""Names that hold markup, script, formula or steering signs: taken as they are, or refused."""

import json

import pytest

from tests.config.dumped import dump_site
from tests.config.small import TEXT, mapping, sentence
from yieldkit.base.errors import InputError
from yieldkit.config.site.files import read_site_text, site_from_mapping

TAKEN = [
    "<script>alert(1)</script>",
    "<img src=x onerror=alert(1)>",
    "<svg/onload=alert(1)>",
    "</title><script>alert(1)</script>",
    "<!-- x --><b>",
    "]]><script>alert(1)</script>",
    "javascript:alert(1)",
    '"><script>alert(1)</script>',
    "' onmouseover='alert(1)",
    "{{7*7}}",
    "{% raw %}",
    "${7*7}",
    "$x_{ b$",
    "a $x$ b",
    "\\frac{1}{0}",
    "=1+1",
    "+1+1",
    "-1+1",
    "@SUM(A1)",
    '=HYPERLINK("x";"y")',
    "a/b",
    "../../etc/passwd",
    "C:\\con",
    "*.yaml",
    "a,b;c",
    'a "quoted" b',
    "&amp; &lt;",
    "x" * 200,
    "屋根 西",
    "سقف",
    "toit 🏠 ouest",
    "%s %(x)s {0}",
    "no",
    "12",
]
REFUSED = [
    "\x1b[2J",
    "\x1b]0;x\x07",
    "a\x00b",
    "a\rb",
    "a\nb",
    "a\tb",
    "a\x7fb",
    "a\x9bb",
    "a\u202eb",
    "a\u2066b",
    "a\u2028b",
    "a\ud800b",
    "x" * 201,
    "",
    " ",
    " a",
    "a ",
]


def named(name):
    """Return the small site with one name in every place that has a name."""
    text = json.dumps(mapping(), default=str, ensure_ascii=True)
    given = json.dumps(name)[1:-1]
    for old in ("Shed (invented)", "west", "M540", "Inverter (invented)", "plain"):
        text = text.replace(f'"{old}"', f'"{given}"')
    return json.loads(text.replace('"A"', f'"{given}"'))


@pytest.mark.parametrize("name", TAKEN)
def test_a_name_of_any_visible_signs_is_taken_as_it_is(name):
    site = site_from_mapping(named(name))
    names = (
        site.site.name,
        site.planes[0].name,
        site.module_types[0].name,
        site.inverter.name,
        site.inverter.mppts[0].name,
        site.wirings[0].name,
        site.wirings[0].trackers[0].mppt,
        site.wirings[0].trackers[0].strings[0].groups[0].plane,
    )
    assert set(names) == {name}
    assert read_site_text(dump_site(site)) == site


@pytest.mark.parametrize("name", REFUSED)
def test_a_name_that_steers_or_hides_is_refused_and_shown_harmlessly(name):
    with pytest.raises(InputError, match=r"site\.name: got .*; expected ") as caught:
        site_from_mapping(named(name))
    told = str(caught.value)
    assert all(sign == "\n" or sign.isprintable() for sign in told)
    assert len([line for line in told.splitlines() if "site.name" in line]) == 1


@pytest.mark.parametrize("name", [*TAKEN, *REFUSED[:12]])
def test_a_name_nobody_knows_is_quoted_harmlessly(name):
    content = mapping()
    content["wirings"][0]["trackers"][0]["mppt"] = name
    with pytest.raises(InputError, match="got the MPPT input") as caught:
        site_from_mapping(content)
    assert all(sign == "\n" or sign.isprintable() for sign in str(caught.value))


@pytest.mark.parametrize("sign", ["\\e[2J", "\\x9b", "\\u202e", "\\0", "\\L"])
def test_an_unknown_key_that_steers_a_terminal_is_shown_harmlessly(sign):
    told = sentence(TEXT + f'"a{sign}b": 1\n')
    assert "got the unknown key 'a\\u" in told
    assert told.isprintable()
