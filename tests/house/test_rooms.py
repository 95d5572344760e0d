"""House rules that a machine can read: size, docstrings, units, and no unfinished marks."""

import ast
import inspect
import json
import re
import subprocess
import textwrap

import pytest

import yieldkit
from tests.house.layers import PACKAGE, ROOT, rooms

pytestmark = pytest.mark.slow

MAX_ROOM_LINES = 350
MAX_BODY_LINES = 60
UNIT = re.compile(r"\[[^\]]*\]")


def body_lines(function):
    """Return how many lines a function's body has, its docstring left out."""
    body = function.body
    first = body[0]
    documented = isinstance(first, ast.Expr) and isinstance(first.value, ast.Constant)
    if documented:
        body = body[1:]
    return body[-1].end_lineno - body[0].lineno + 1 if body else 0


def functions(tree):
    """Return every function of a module, inner ones as well."""
    return [
        node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
    ]


def long_functions(tree):
    """Return the functions whose body is too long."""
    return [
        f"{each.name} ({body_lines(each)} lines)"
        for each in functions(tree)
        if body_lines(each) > MAX_BODY_LINES
    ]


def undocumented(tree):
    """Return public functions and classes whose docstring lacks something.

    A function with two parameters or more names each of them in its Parameters.
    """
    found = []
    for node in tree.body:
        if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
            if not ast.get_docstring(node):
                found.append(f"{node.name}: no docstring")
        elif isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
            found.extend(_missing(node))
    return found


def _missing(function):
    text = ast.get_docstring(function)
    if not text:
        return [f"{function.name}: no docstring"]
    if not text.splitlines()[0].rstrip().endswith((".", ":", ";")):
        return [f"{function.name}: the first line is no sentence"]
    given = [each.arg for each in (*function.args.args, *function.args.kwonlyargs)]
    given = [name for name in given if name not in ("self", "cls")]
    if "Parameters\n---" not in text:
        return []
    named = set(re.findall(r"\w+", text.split("Parameters\n---", 1)[1].split("Returns\n---")[0]))
    return [f"{function.name}: parameter {name} is not told" for name in given if name not in named]


def is_compiled(function):
    """Return whether a function is compiled, by its decorators."""
    kinds = ("compiled", "compiled_owning")
    return any(ast.unparse(each).split(".")[-1] in kinds for each in function.decorator_list)


def unexplained_kernels(tree):
    """Return what the docstrings of compiled functions don't say.

    They have no annotations, so their docstring has every argument: its type, for a number its
    unit, for an array its unit and shape (that of whole numbers and yes or no: its shape); and
    what is returned. An entry of several names may refer to another function ("As for ...").
    """
    found = []
    for function in functions(tree):
        if is_compiled(function):
            found.extend(f"{function.name}: {each}" for each in _unexplained(function))
    return found


def _unexplained(kernel):
    text = ast.get_docstring(kernel) or ""
    wanted = [each.arg for each in kernel.args.args]
    if wanted and "Parameters\n---" not in text:
        return ["no Parameters"]
    entries = _entries(text)
    found = [f"{name} is not explained" for name in wanted if name not in entries]
    found += [f"{name} is no argument" for name in entries if name not in wanted]
    for name, (kind, meaning) in entries.items():
        found.extend(f"{name} has no {lack}" for lack in _lacks(kind, meaning))
    gives = any(isinstance(n, ast.Return) and n.value is not None for n in ast.walk(kernel))
    if gives and "Returns\n---" not in text:
        found.append("no Returns")
    return found


def _entries(text):
    """Return type and meaning of each name in a docstring's Parameters."""
    section = re.search(r"Parameters\n-+\n(.*?)(?=\n\n|\Z)", text, re.DOTALL)
    entries = {}
    for entry in re.findall(r"^\S.*(?:\n[ ]+.*)*", section[1] if section else "", re.MULTILINE):
        head, _, meaning = entry.partition("\n")
        names, _, kind = head.partition(" : ")
        entries.update({name.strip(): (kind, meaning) for name in names.split(",")})
    return entries


def _lacks(kind, meaning):
    if "As for" in meaning:
        return []
    lacks = [] if kind else ["type"]
    lacks += [] if meaning.strip() else ["meaning"]
    if kind in ("float", "ndarray") and not UNIT.search(meaning):
        lacks.append("unit")
    if kind.startswith("ndarray") and not re.search(r"\([^()]*,[^()]*\)", meaning):
        lacks.append("shape")
    return lacks


def untyped(tree):
    """Return parameters and results of module-level functions without a type."""
    found = []
    for node in tree.body:
        if not isinstance(node, ast.FunctionDef):
            continue
        if is_compiled(node):
            continue
        arguments = (*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs)
        found.extend(f"{node.name}({each.arg})" for each in arguments if each.annotation is None)
        if node.returns is None:
            found.append(f"{node.name} ->")
    return found


def test_no_room_is_larger_than_350_lines():
    sizes = {
        str(path.relative_to(ROOT)): len(path.read_text(encoding="utf-8").splitlines())
        for path in PACKAGE.rglob("*.py")
    }
    assert {name: size for name, size in sizes.items() if size > MAX_ROOM_LINES} == {}


def test_no_function_body_is_longer_than_60_lines():
    found = {name: long_functions(tree) for name, tree in rooms(PACKAGE).items()}
    assert {name: each for name, each in found.items() if each} == {}


def test_everything_public_is_documented():
    found = {name: undocumented(tree) for name, tree in rooms(PACKAGE).items()}
    assert {name: each for name, each in found.items() if each} == {}


def test_every_compiled_function_explains_its_arguments():
    found = {name: unexplained_kernels(tree) for name, tree in rooms(PACKAGE).items()}
    assert {name: each for name, each in found.items() if each} == {}


def dishonest_predicates(tree):
    """Return functions named like a question that return a number."""
    return [
        each.name
        for each in functions(tree)
        if each.name.startswith(("is_", "has_", "may_"))
        for node in ast.walk(each)
        if isinstance(node, ast.Return) and node.value is not None
        if any(_is_number(value) for value in _branches(node.value))
    ]


def _branches(value):
    return (value.body, value.orelse) if isinstance(value, ast.IfExp) else (value,)


def _is_number(value):
    value = value.operand if isinstance(value, ast.UnaryOp) else value
    return isinstance(value, ast.Constant) and type(value.value) in (int, float)


def test_questions_are_answered_with_yes_or_no():
    found = {name: dishonest_predicates(tree) for name, tree in rooms(PACKAGE).items()}
    assert {name: each for name, each in found.items() if each} == {}


def test_every_function_is_typed():
    found = {name: untyped(tree) for name, tree in rooms(PACKAGE).items()}
    assert {name: each for name, each in found.items() if each} == {}


def physics_without_units(trees):
    """Return public physics functions that take or return arrays and name no unit."""
    found = []
    for name, tree in trees.items():
        if not name.startswith("yieldkit.physics."):
            continue
        for node in tree.body:
            if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
                types = [*(each.annotation for each in node.args.args), node.returns]
                texts = [ast.unparse(each) for each in types if each is not None]
                arrays = any("ndarray" in text or "Array" in text for text in texts)
                if arrays and not UNIT.search(ast.get_docstring(node) or ""):
                    found.append(f"{name}.{node.name}")
    return found


def test_physics_on_arrays_names_units():
    assert physics_without_units(rooms(PACKAGE)) == []


@pytest.mark.parametrize("array", ["FloatArray", "np.ndarray", "IntArray | None"])
def test_an_array_without_unit_would_be_noticed(array):
    taken = f'def run(left: {array}) -> int:\n    """Take an array."""'
    given = f'def run(left: int) -> {array}:\n    """Give an array."""'
    for source in (taken, given):
        room = "yieldkit.physics.planted"
        assert physics_without_units({room: ast.parse(source)}) == [f"{room}.run"]
        told = source.replace("array.", "array [W] (time,).")
        assert physics_without_units({room: ast.parse(told)}) == []


def bare_arrays(tree):
    """Return the annotations that say "an array" and not of what."""
    notes = [
        node.annotation for node in ast.walk(tree) if isinstance(node, ast.arg | ast.AnnAssign)
    ]
    notes += [node.returns for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)]
    texts = [ast.unparse(each) for each in notes if each is not None]
    return [text for text in texts if "ndarray" in text]


def test_signatures_say_what_arrays_hold():
    found = {name: bare_arrays(tree) for name, tree in rooms(PACKAGE).items()}
    assert {name: each for name, each in found.items() if each} == {}


def test_physics_opens_no_file_and_prints_nothing():
    found = []
    for name, tree in rooms(PACKAGE).items():
        if not name.startswith("yieldkit.physics."):
            continue
        for node in ast.walk(tree):
            called = getattr(node, "func", None)
            if isinstance(called, ast.Name) and called.id in ("open", "print", "input", "exec"):
                found.append(f"{name} line {node.lineno}: {called.id}")
            if isinstance(node, ast.Global | ast.Nonlocal):
                found.append(f"{name} line {node.lineno}: state")
    assert found == []


def test_no_unfinished_marks_in_the_product():
    marks = re.compile(
        r"TO" + r"DO|FIX" + r"ME|XX" + r"X|NotImplemented" + r"Error|place" + "holder"
    )
    found = [
        f"{path.relative_to(ROOT)}: {match[0]}"
        for path in [*PACKAGE.rglob("*.py"), *(ROOT / "notebooks").glob("*")]
        if path.is_file()
        for match in marks.finditer(path.read_text(encoding="utf-8"))
    ]
    assert found == []


def test_notebooks_are_committed_without_outputs():
    found = []
    for path in (ROOT / "notebooks").glob("*.ipynb"):
        content = json.loads(path.read_text(encoding="utf-8"))
        for number, cell in enumerate(content["cells"]):
            if cell.get("outputs") or cell.get("execution_count"):
                found.append(f"{path.name} cell {number}")
    assert found == []


def test_every_raises_in_the_tests_reads_the_message():
    found = []
    for path in (ROOT / "tests").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            bare = isinstance(node, ast.Call) and ast.unparse(node.func) == "pytest.raises"
            if bare and "match" not in {keyword.arg for keyword in node.keywords}:
                found.append(f"{path.relative_to(ROOT)} line {node.lineno}")
    assert found == []


def test_committed_files_hold_no_path_of_a_machine():
    listed = subprocess.run(
        ["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    names = [name for name in listed.stdout.split("\0") if name]
    if listed.returncode:
        names = [str(p.relative_to(ROOT)) for p in PACKAGE.rglob("*.py")]
    pattern = re.compile(r"(?<![\w.])/(?:home|Users|opt|root|work|mnt)/\w")
    found = []
    for name in names:
        path = ROOT / name
        if not path.is_file() or path.suffix in (".parquet", ".png", ".nc"):
            continue
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1):
            if pattern.search(line):
                found.append(f"{name} line {number}")
    assert found == []


LONG = "def long():\n" + "    x = 1\n" * 61
UNTOLD = '''
def add(left_w: float, right_w: float) -> float:
    """Add two powers.

    Parameters
    ----------
    left_w : float
        First [W].

    Returns
    -------
    float
        Sum [W].
    """
    return left_w + right_w
'''


KERNEL = '''
@compiled
def add(volts, here, count):
    """Add voltages.

    Parameters
    ----------
    volts : float
        First voltage [V].
    here : ndarray
        Further voltages [V] (time,).
    count : int
        How many of them.

    Returns
    -------
    float
        [V].
    """
    return volts + here[:count].sum()
'''
BARE_KERNEL = '''
@compiled
def add(volts, here, count):
    """Add voltages [V] (time,)."""
    return volts + here[:count].sum()
'''


@pytest.mark.parametrize(
    ("rule", "source", "told"),
    [
        (long_functions, LONG, "long (61 lines)"),
        (long_functions, LONG.replace("    x = 1\n", "", 1), None),
        (undocumented, "def f():\n    pass", "f: no docstring"),
        (undocumented, "class A:\n    x = 1", "A: no docstring"),
        (undocumented, 'def f():\n    """not a sentence"""', "f: the first line is no sentence"),
        (undocumented, UNTOLD, "add: parameter right_w is not told"),
        (undocumented, UNTOLD.replace("    left_w :", "    left_w, right_w :"), None),
        (unexplained_kernels, KERNEL, None),
        (unexplained_kernels, BARE_KERNEL, "add: no Parameters"),
        (
            unexplained_kernels,
            KERNEL.replace("    count : int\n        How many of them.\n", ""),
            "add: count is not explained",
        ),
        (
            unexplained_kernels,
            KERNEL.replace("First voltage [V]", "First voltage"),
            "add: volts has no unit",
        ),
        (
            unexplained_kernels,
            KERNEL.replace("voltages [V] (time,).", "voltages [V]."),
            "add: here has no shape",
        ),
        (
            unexplained_kernels,
            KERNEL.replace("Returns\n    -------", "Gives\n    -----"),
            "add: no Returns",
        ),
        (unexplained_kernels, KERNEL.replace("here, count)", "here)"), "add: count is no argument"),
        (unexplained_kernels, BARE_KERNEL.replace("@compiled\n", ""), None),
        (dishonest_predicates, "def is_dark(x):\n    return 1 if x else 0", "is_dark"),
        (dishonest_predicates, "def is_dark(x):\n    return -1", "is_dark"),
        (dishonest_predicates, "def is_dark(x):\n    return not x", None),
        (untyped, "def f(a): return a", "f(a)"),
        (bare_arrays, "def f(a: np.ndarray | None): return a", "np.ndarray | None"),
        (bare_arrays, "def f() -> np.ndarray: return a", "np.ndarray"),
        (bare_arrays, "a: dict[str, np.ndarray] = {}", "dict[str, np.ndarray]"),
        (bare_arrays, "def f(a: FloatArray) -> IntArray: return a", None),
        (untyped, "def f(a: int): return a", "f ->"),
    ],
)
def test_each_rule_bites_on_a_planted_offender(rule, source, told):
    found = rule(ast.parse(textwrap.dedent(source)))
    assert found == [] if told is None else told in found


def test_docstrings_of_the_door_have_the_numpydoc_sections():
    for name in yieldkit.__all__:
        member = getattr(yieldkit, name)
        if inspect.isfunction(member):
            text = inspect.getdoc(member)
            sections = ["Parameters", "Returns"]
            missing = [each for each in sections if f"{each}\n{'-' * len(each)}" not in text]
            assert missing == [], name
