"""Conditions that leave runs out: what they mean, and what is refused, each with its line."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from yieldkit.base.errors import InputError
from yieldkit.config.plan.conditions import read_condition

KNOWN = {
    "tilt": (10, 20, 30),
    "other": (10, 25),
    "module": ("M430 (invented)", "M2"),
    "tracked": (True, False),
    "wiring": ("one plane per tracker", "lopsided"),
}
RUN = {"tilt": 20, "other": 25, "module": "M2", "tracked": True, "wiring": "lopsided"}


def holds(text, **others):
    return read_condition(text, KNOWN, "plan.yaml line 9").holds({**RUN, **others})


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("tilt < 20", False),
        ("tilt <= 20", True),
        ("tilt > 19.5", True),
        ("tilt >= 2e1", True),
        ("tilt > -20", True),
        ("tilt == 20", True),
        ("tilt != 20", False),
        ("10 < tilt < 20", False),
        ("10 < tilt <= 20", True),
        ("20 == tilt", True),
        ("tilt < other", True),
        ("tilt == other", False),
        ("tilt == 20 and other == 10 or tracked == true", True),
        ("tracked == true or tilt == 20 and other == 10", True),
        ("(tracked == true or tilt == 20) and other == 10", False),
        ("not tilt == 20", False),
        ("not tilt == 20 or tilt == 20", True),
        ("not (tilt == 20 or other == 10)", False),
        ("not not tilt == 20", True),
        ("tracked != false", True),
        ("module == 'M2'", True),
        ('module == "M2" and wiring == "lopsided"', True),
        ("module in ['M430 (invented)']", False),
        ("module not in ['M430 (invented)']", True),
        ("tilt in [10, 20]", True),
        ("tilt in [-10, 2.5]", False),
        ("not tilt in [10, 30]", True),
    ],
)
def test_a_condition_means_what_it_says(text, expected):
    assert holds(text) is expected


def test_a_condition_knows_the_axes_it_speaks_of():
    read = read_condition("tilt < 20 and not module in ['M2']", KNOWN, "plan.yaml line 9")
    assert read.names == {"tilt", "module"}


NEEDS = "expected a condition such as tilt < 10 and wiring == 'lopsided'."


@pytest.mark.parametrize(
    ("text", "got"),
    [
        ("__import__('os')", f"'__import__('os')' in the condition '__import__('os')'; {NEEDS}"),
        ("tilt.__class__ == 3", "'.__class__ == 3' in the condition"),
        ("exec('x') == 3", "the name 'exec' in the condition"),
        ("tilt == 3; tilt", "'; tilt' in the condition"),
        ("lambda: 0", "': 0' in the condition"),
        ("[x for x in tilt]", "'[' in the condition"),
        ("tilt < 5 5", "'5' in the condition"),
        ("tilt < 5x", "'5x' in the condition"),
        ("tilt <", "an end in the condition"),
        ("tilt < 5 or", "an end in the condition"),
        ("(tilt < 5", "an end in the condition"),
        ("tilt in [1, 2", "an end in the condition"),
        ("tilt < - module", "'module' in the condition"),
        ("5 in [5]", "'in' in the condition"),
        ("and", "'and' in the condition"),
        ("   ", "an end in the condition"),
        ("tilt", "'tilt' alone in the condition 'tilt'; expected"),
        ("true", "true alone in the condition"),
        ("1 < 2", "a comparison without an axis in the condition"),
        ("tilt in [other]", "the axis 'other' in a list in the condition"),
        ("tlt < 5", "the name 'tlt' in the condition"),
        ("module == M2", "the name 'M2' in the condition"),
        ("tilt == 'x'", "a comparison of numbers with text in the condition"),
        ("tilt == module", "a comparison of numbers with text in the condition"),
        ("tracked == 1", "a comparison of true or false with numbers in the condition"),
        ("tilt in ['x']", "a comparison of numbers with text in the condition"),
        ("module < 'M2'", "'<' with text in the condition"),
        ("tracked > false", "'>' with true or false in the condition"),
        ("wiring == 'lopsidd'", "'lopsidd', which 'wiring' never is in the condition"),
        ("'lopsidd' == wiring", "'lopsidd', which 'wiring' never is in the condition"),
        ("(" * 40 + "tilt < 5" + ")" * 40, "more than 30 levels in the condition"),
        ("not " * 40 + "tilt < 5", "more than 30 levels in the condition"),
    ],
)
def test_anything_else_is_refused_with_its_line(text, got):
    with pytest.raises(InputError, match="expected") as caught:
        read_condition(text, KNOWN, "plan.yaml line 9")
    assert str(caught.value).startswith(f"plan.yaml line 9: got {got}")


@pytest.mark.parametrize(
    ("text", "remedy"),
    [
        ("tlt < 5", "Did you mean 'tilt'?"),
        ("module == M2", "Text stands in quotes: module == 'M2'."),
        ("wiring == 'lopsidd'", "Did you mean 'lopsided'?"),
        ("tilt", "Compare it with a value: <, <=, >, >=, ==, != or in [...]."),
        ("1 < 2", "Axes: tilt, other, module, tracked, wiring."),
    ],
)
def test_what_to_do_is_said(text, remedy):
    with pytest.raises(InputError, match="expected") as caught:
        read_condition(text, KNOWN, "plan.yaml line 9")
    assert str(caught.value).endswith(remedy)


def comparisons():
    """Draw a comparison as it is written, and as python writes it."""
    sign = st.sampled_from(["<", "<=", ">", ">=", "==", "!="])
    number = st.sampled_from(["10", "20", "25", "-3", "2.5e1"])
    name = st.sampled_from(["tilt", "other"])
    plain = st.tuples(name, sign, name | number).map(" ".join)
    chained = st.tuples(number, sign, name, sign, number).map(" ".join)
    texts = st.sampled_from(["module == 'M2'", "module != 'M2'", "module in ['M2']"])
    among = st.tuples(name, st.sampled_from(["in", "not in"]), st.just("[10, 20]")).map(" ".join)
    return plain | chained | texts | among


def written():
    """Draw conditions of any shape."""
    return st.recursive(
        comparisons(),
        lambda inner: (
            st.tuples(inner, st.sampled_from(["and", "or"]), inner).map(" ".join)
            | inner.map("not {}".format)
            | inner.map("({})".format)
        ),
        max_leaves=6,
    )


@given(written(), st.sampled_from([10, 20, 30]), st.sampled_from([10, 25]), st.booleans())
def test_conditions_mean_what_python_means_by_them(text, tilt, other, second):
    values = {"tilt": tilt, "other": other, "module": "M2" if second else "M430 (invented)"}
    assert holds(text, **values) == eval(text, {"__builtins__": {}}, values)


@given(st.text(max_size=40) | st.text("tilt<>=!()[]andornot '\"0.5e-,_;:*", max_size=60))
def test_any_other_text_is_refused_in_a_sentence(text):
    try:
        names, said = read_condition(text, KNOWN, "plan.yaml line 9").names, ""
    except InputError as error:
        names, said = frozenset(), str(error)
    assert said.startswith("plan.yaml line 9: got ") if said else names
    assert names <= set(KNOWN)
