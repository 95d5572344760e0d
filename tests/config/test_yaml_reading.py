"""Site files as text: what the reader refuses, with the line, and how hostile files end."""

import re
import time
import tracemalloc

import pytest

from tests.config.small import SITE, TEXT, refusal, sentence
from yieldkit.base.errors import InputError
from yieldkit.config.reading.yaml import parse_yaml
from yieldkit.config.site.files import load_site, read_site_text

pytestmark = pytest.mark.slow

CASES = {
    "anchor": ("a: &x 1", "line 1: got an anchor or alias (& or *); expected every value written"),
    "alias": ("a: *x", "line 1: got an anchor or alias (& or *); expected every value written out"),
    "tag": ("a: 1\nb: !!python/name:os.system 1", "line 2: got the tag '"),
    "local tag": ("a: !mine 1", "line 1: got the tag '!mine'; expected plain values without tags"),
    "merge key": ("a: {<<: {b: 1}}", "line 1: got a merge key (<<); expected every value written"),
    "directive": ("%YAML 1.1\n---\na: yes", "got a directive (%); expected plain YAML without"),
    "two documents": ("a: 1\n---\nb: 2", "line 2: got a second document (---); expected one"),
    "key twice": (
        "a: 1\nb: 2\na: 3",
        "line 3: got the key 'a' again, first in line 1; expected each key once. Remove one",
    ),
    "key twice, deep": (
        "a:\n  - {x: 1}\n  - {x: 1, y: 2, x: 3}",
        "line 3: got the key 'x' again, first in line 3; expected each key once",
    ),
    "list as key": (
        "? [a, b]\n: 1",
        "line 1: got a list or map as a key; expected a word as a key",
    ),
    "tab": ("a:\n\tb: 1", "line 2, column 1: got a tab or another sign that can't begin a value"),
    "colon": ("a: b: c", "line 1, column 5: got a colon where no key can stand; expected one"),
    "no colon": ("a: 1\nb\nc: 1", "got a line without a colon (begun in line 2); expected 'key:"),
    "open quotes": ('a: "b\nc: 1\n', "got the end of the file inside quotes (begun in line 1);"),
    "open list": ("a: [1, 2\nb: 3\n", "got a list in brackets that isn't closed (begun in line 1)"),
    "open map": ("a: {b: 1\nc\n", "got a map in braces that isn't closed (begun in line 1)"),
    "indentation": (
        "a:\n  b: 1\n c: 2\n",
        "line 3, column 2: got a line whose indentation doesn't fit the lines above",
    ),
    "escape": ('a: "\\q"', "got a backslash that starts no known sign (begun in line 1)"),
    "other": ("a: [,,]", "got something else (while parsing a flow node"),
    "control sign": ("a: 1\nb: \x00", "line 2: got the sign U+0000; expected text without control"),
    "strange number": ("a: 0x_", "line 1: got '0x_'; expected a number or text. Put text in quot"),
    "no sign at all": (
        'a: "\\UFFFFFFFF"',
        "line 1: got text that no YAML reader understands (OverflowError); expected valid YAML. "
        "Compare it with the output of `yieldkit new`.",
    ),
    "empty": ("", "site file: got an empty file; expected keys and values. `yieldkit new` writes"),
    "a comment": ("# nothing", "site file: got an empty file; expected keys and values"),
    "a word": ("hello", "site file: got 'hello' alone; expected keys and values"),
    "a list": ("- a\n- b", "site file: got a list of 2 alone; expected keys and values"),
    "long text": (
        "a: " + "x" * 5000,
        "line 1: got a text of 5000 signs; expected no more than 4000",
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_what_is_no_plain_yaml_is_told_with_its_line(name):
    text, wanted = CASES[name]
    assert wanted in sentence(text)


def test_all_that_is_wrong_with_the_syntax_is_told_at_once():
    problems = refusal("a: &x 1\nb: !t 2\nb: 3\nc: *x\nd: [").problems
    lines = [re.search(r"line (\d+)", each.where)[1] for each in problems]
    assert lines == ["1", "2", "3", "4", "5"]


def test_values_mean_what_they_say():
    text = (
        "a: 010\nb: no\nc: 12:30\nd: 1e3\ne: on\nf: 2001-01-01\ng: 2001-13-45\nh: '1'\ni: ~\nj: ="
    )
    read = parse_yaml(text, "x").values
    assert read == {
        "a": 10,
        "b": "no",
        "c": "12:30",
        "d": 1000.0,
        "e": "on",
        "f": "2001-01-01",
        "g": "2001-13-45",
        "h": "1",
        "i": None,
        "j": "=",
    }
    assert type(read["a"]) is int


def test_every_key_and_entry_knows_its_line():
    content = parse_yaml(
        "a:\n  - x: 1\n    y:\n      - 2\n      - 3\n  - {x: 1}\nb: |\n  t\nc: 1", "f"
    )
    assert content.lines == {
        ("a",): 1,
        ("a", 0): 2,
        ("a", 0, "x"): 2,
        ("a", 0, "y"): 3,
        ("a", 0, "y", 0): 4,
        ("a", 0, "y", 1): 5,
        ("a", 1): 6,
        ("a", 1, "x"): 6,
        ("b",): 7,
        ("c",): 9,
    }
    assert content.where(("a", 0, "y", 1)) == "f line 5, a.0.y.1"
    assert content.where(("a", 1, "missing")) == "f line 6, a.1.missing"
    assert content.where(("a", 1, "only-models-know", "x")) == "f line 6, a.1.x"


def test_byte_order_mark_and_carriage_returns_are_no_matter(tmp_path):
    file = tmp_path / "site.yaml"
    file.write_bytes(b"\xef\xbb\xbf" + TEXT.replace("\n", "\r\n").encode())
    assert load_site(file).model_dump() == SITE.model_dump()


def test_files_that_cannot_be_read(tmp_path):
    (tmp_path / "barn.yaml").write_text(TEXT, encoding="utf-8")
    (tmp_path / "latin.yaml").write_bytes(b"a: 1\nb: M\xfcnster\n")
    (tmp_path / "huge.yaml").write_bytes(b"# " + b"x" * 256_000)
    cases = {
        "bran.yaml": "a file that can't be read .* expected a site file. Did you mean 'barn.yaml'?",
        "zzz.yaml": "a file that can't be read .* `yieldkit new` writes one to start from",
        ".": "got a path to a folder; expected a site file. Save the site as a file",
        "latin.yaml": "latin.yaml line 2: got a byte that is not UTF-8 .0xfc.; expected a UTF-8",
        "huge.yaml": "huge.yaml: got a larger file; expected no more than 256000 bytes",
        "a\x00b": "a file that can't be read",
    }
    for name, wanted in cases.items():
        with pytest.raises(InputError, match=wanted):
            load_site(tmp_path / name)


def _laughs(depth):
    lines = ["a0: &a0 [x, x]"]
    lines += [f"a{i}: &a{i} [*a{i - 1}, *a{i - 1}]" for i in range(1, depth)]
    return "\n".join(lines)


HOSTILE = {
    "a thousand laughs": _laughs(40),
    "merge keys on merge keys": "a0: &a0 {k: 1}\n"
    + "\n".join(f"a{i}: &a{i} {{<<: [*a{i - 1}, *a{i - 1}]}}" for i in range(1, 25)),
    "itself": "a: &a [*a]",
    "itself as key": "&a a: *a",
    "open lists": "[" * 250_000,
    "open maps": "{" * 250_000,
    "open pairs": "[{" * 120_000,
    "question marks": "? " * 120_000,
    "dashes": "- " * 120_000,
    "colons": "a: " * 80_000,
    "deep block": "\n".join(" " * depth + "a:" for depth in range(600)),
    "deep list": "\n".join("  " * depth + "-" for depth in range(400)),
    "deep flow": "a: " + "[" * 40 + "]" * 40,
    "many digits": "a: " + "9" * 3900,
    "too many digits": "a: " + "9" * 100_000,
    "many digits in a number": TEXT.replace("latitude: 52.0", "latitude: " + "9" * 3000),
    "huge exponent": TEXT.replace("latitude: 52.0", "latitude: 1e99999"),
    "not a number": TEXT.replace("latitude: 52.0", "latitude: .nan"),
    "without end": TEXT.replace("latitude: 52.0", "latitude: -.inf"),
    "long key": "k" * 200_000 + ": 1",
    "long line of keys": "{" + ", ".join(f"k{i}: 1" for i in range(20_000)) + "}",
    "many keys": "\n".join(f"k{i}: {i}" for i in range(20_000)),
    "many planes": "planes:\n" + "  - {}\n" * 15_000,
    "many wrong names": "planes:\n" + "  - {module_type: x}\n" * 8_000,
    "many comments": "# x\n" * 60_000,
    "one comment": "#" * 250_000,
    "a python object": "a: !!python/object/apply:os.system ['echo']",
    "a python name": "a: !!python/name:eval ''",
    "an int tag": "a: !!int x",
    "a date tag": "a: !!timestamp 9",
    "a binary": "a: !!binary aGVsbG8=",
    "a set": "!!set {a, b}",
    "an ordered map": "a: !!omap [b: 1]",
    "tag handles": "%TAG ! tag:x,2000:\n---\na: !y 1",
    "a yaml to come": "%YAML 1.999\n---\na: 1",
    "no sign": 'a: "\\U00110000"',
    "no sign at all": 'a: "\\UFFFFFFFF"',
    "old yaml": "%YAML 1.1\n---\nschema_version: 01",
    "unknown yaml": "%YAML 9.9\n---\na: 1",
    "directives": "%X y\n" * 1000 + "---\na: 1",
    "null sign": "a: \x00",
    "escape sign": "a: \x1b[2J",
    "escaped escape": 'site: {name: "\\e[2J"}',
    "surrogate": 'a: "\\ud800"',
    "next line": "a:\x85 b",
    "line separator": "a:\u2028 b: c: d",
    "byte order in the middle": "a: 1\n\ufeffb: &x 2",
    "text that is a map": "site: 'latitude: 1'",
    "documents": "---\n" * 5_000,
    "end signs": "...\n" * 1_000,
    "block text": "a: |\n" + "  x\n" * 50_000,
    "folded text": "a: >\n" + "  x\n" * 50_000,
    "quotes": "a: " + "'" * 200_000,
    "double quotes": 'a: "' + "\\" * 200_000,
    "keys without text": "{: 1, ? : 2, [] : 3}",
    "nothing as key": "~: 1\nnull: 2\ntrue: 3\n1: 4\n1.0: 5",
}


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_file_ends_soon_and_with_our_own_error(name):
    began = time.process_time()
    with pytest.raises(InputError, match="expected"):
        read_site_text(HOSTILE[name])
    # Twice what it takes alone: processor time grows where caches are shared.
    assert time.process_time() - began < 3.0


@pytest.mark.parametrize("name", ["many keys", "long line of keys", "many planes"])
def test_a_file_with_too_many_keys_is_not_read_on(name):
    told = sentence(HOSTILE[name])
    line = {"many keys": 12_001, "long line of keys": 1, "many planes": 12_001}[name]
    assert f"line {line}: got more than 12000 keys and entries; expected a smaller file" in told


@pytest.mark.parametrize("name", ["a thousand laughs", "open lists", "many digits"])
def test_a_hostile_file_takes_little_memory(name):
    tracemalloc.start()
    with pytest.raises(InputError, match="expected"):
        read_site_text(HOSTILE[name])
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 100e6


def test_a_file_with_thousands_of_mistakes_tells_the_first_hundred():
    problems = refusal("\n".join(f"k{i}: {i}" for i in range(2_000))).problems
    assert len(problems) == 101
    assert "problems more; expected a site file. Mend the first ones" in problems[-1].sentence()
