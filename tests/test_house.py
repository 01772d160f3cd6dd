"""Rules of the house that live in the test suite: floors, sizes, lightness of the command line."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
import tomllib
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parent.parent / "forcing"
MODULES = sorted(PACKAGE.rglob("*.py"))

# DESIGN: imports run strictly downward; season/ and reports/ do not know each other.
FLOORS = {
    "units": 0, "dates": 0, "text": 0, "errors": 0.1,  # findings use the words for lists
    "files": 0.4, "xlsx": 0.5,  # whole files, a quiet standard output, valid workbooks
    "model": 1,
    "science": 2,
    "recipes": 3,
    "engine": 4,
    "season": 5, "reports": 5,
    "api": 6,
    "__init__": 6.5,  # hands on the public names
    "terminal": 6.8,  # how what the commands say is shown
    "cli": 7,
    "__main__": 8,
}  # fmt: skip
HEAVY = {
    "numpy",
    "pandas",
    "matplotlib",
    "openpyxl",
    "scipy",
    "reportlab",
    "icalendar",
    "highspy",
    "holidays",
    "pydantic",
}
FLOOR_4_ONLY = {"openpyxl", "matplotlib", "reportlab", "icalendar", "jinja2"}
MOST_MODULES = 127  # but for the faces of folders, __init__.py
# Longer than 600 lines, and why one idea needs as many.
MOST_LINES = {
    "api.py": (750, "the Python face is one page to read"),
    "season/build.py": (670, "every record of a season is built there"),
    "season/schema.py": (700, "every table and column stands there once"),
    "model.py": (780, "every noun stands there once"),
    "engine/plan.py": (640, "a plan is worked out there, stage by stage"),
    "engine/simulate.py": (640, "the life of one lot is one thing"),
    "engine/companions.py": (720, "the life of one companion is one thing"),
    "reports/frames.py": (680, "every table stands there once"),
}
TOUCHES_FILES = {"open", "print", "input"}
FILE_MODULES = {"os", "pathlib", "shutil", "tempfile", "logging"}


def part(path: Path) -> str:
    """The part of the house a module belongs to: its top folder or its own name."""
    relative = path.relative_to(PACKAGE)
    return relative.parts[0] if len(relative.parts) > 1 else relative.stem


def imports(path: Path) -> list[str]:
    names: list[str] = []
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            names.append(node.module or "")
            if node.module == "forcing":
                names += [f"forcing.{alias.name}" for alias in node.names if alias.name != "__version__"]
    return names


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_imports_run_downward(path: Path) -> None:
    mine = part(path)
    assert mine in FLOORS, f"{path} stands on no floor"
    for name in imports(path):
        if name.startswith("forcing."):
            theirs = name.split(".")[1]
            assert theirs == mine or FLOORS[theirs] < FLOORS[mine], f"{path} imports {name}, not below it"


def name_of(path: Path) -> str:
    return str(path.relative_to(PACKAGE))


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_a_module_is_one_idea_that_can_be_read_through(path: Path) -> None:
    lines = len(path.read_text(encoding="utf-8").splitlines())
    assert lines <= MOST_LINES.get(name_of(path), (600, ""))[0]


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_functions_need_no_scrolling(path: Path) -> None:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            assert (node.end_lineno or 0) - node.lineno < 60, f"{path}: {node.name} is too long"


def test_the_house_has_no_more_rooms_than_ideas() -> None:
    rooms = [path for path in MODULES if path.name != "__init__.py"]
    assert len(rooms) <= MOST_MODULES


def test_one_name_means_one_module_in_each_part_of_the_house() -> None:
    modules: dict[tuple[str, str], list[str]] = defaultdict(list)
    for path in MODULES:
        if path.name != "__init__.py":
            modules[part(path), path.stem].append(name_of(path))
    twice = {key for key, paths in modules.items() if len(paths) > 1}
    assert twice == set()


def test_one_name_means_one_class_in_the_model_the_engine_and_the_season() -> None:
    classes: dict[tuple[str, str], list[str]] = defaultdict(list)
    for path in MODULES:
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                classes[part(path), node.name].append(name_of(path))
                if part(path) == "engine":  # what the engine answers is no second meaning of a noun
                    classes["model", node.name] = [*classes["model", node.name], name_of(path)]
    checked = ("model", "engine", "season", "science", "recipes", "api")
    twice = {key: paths for key, paths in classes.items() if key[0] in checked and len(paths) > 1}
    assert twice == {}


RUN = 8  # equal lines of code that are a mechanism, and no chance


def code_of(path: Path) -> Iterator[tuple[int, str]]:
    """Lines of code with their numbers: no imports, docstrings, comments or blank lines."""
    text = path.read_text(encoding="utf-8")
    left_out: set[int] = set()
    for node in ast.walk(ast.parse(text)):
        words = isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
        if words or isinstance(node, ast.Import | ast.ImportFrom):
            left_out |= set(range(node.lineno, (node.end_lineno or node.lineno) + 1))
    for number, line in enumerate(text.splitlines(), 1):
        code = line.partition("  # ")[0].strip()
        if code and not code.startswith("#") and number not in left_out:
            yield number, code


def test_no_eight_lines_stand_twice() -> None:
    seen: dict[tuple[str, ...], str] = {}
    for path in MODULES:
        lines = list(code_of(path))
        for at in range(len(lines) - RUN + 1):
            run = tuple(code for _, code in lines[at : at + RUN])
            here = f"{name_of(path)}:{lines[at][0]}"
            assert seen.setdefault(run, here) == here, f"{here} is {seen[run]} again: {run[0]}"


READERS = {"startswith", "endswith", "split", "partition", "find", "index", "removeprefix", "match", "search",
           "fullmatch", "findall", "sub"}  # fmt: skip


def is_prose(node: ast.AST) -> bool:
    """Whether an expression is the text of a finding, or holds it."""
    return any(isinstance(n, ast.Attribute) and n.attr in ("message", "hint") for n in ast.walk(node))


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_nothing_is_decided_by_reading_a_message(path: Path) -> None:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Compare):
            assert not any(is_prose(n) for n in (node.left, *node.comparators)), f"{path}: {node.lineno}"
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr in READERS:
            read = (node.func.value, *node.args)
            assert not any(is_prose(n) for n in read), f"{path}: {node.lineno}"


def test_only_the_commands_ask_what_day_it_is() -> None:
    for path in MODULES:
        asks = re.search(
            r"\b(date\.today|datetime\.now|utcnow|time\.time)\b", path.read_text(encoding="utf-8")
        )
        assert asks is None or name_of(path) == "cli.py", path


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_today_has_no_default(path: Path) -> None:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.FunctionDef):
            given = reversed([*node.args.posonlyargs, *node.args.args])
            pairs = [*zip(given, reversed(node.args.defaults), strict=False)]
            pairs += [(a, d) for a, d in zip(node.args.kwonlyargs, node.args.kw_defaults, strict=True) if d]
            for argument, default in pairs:
                if argument.arg == "on":  # None is no day: it is "all that is logged"
                    assert isinstance(default, ast.Constant) and default.value is None, node.name


@pytest.mark.parametrize(
    "path",
    [p for p in MODULES if FLOORS[part(p)] <= 4 and part(p) not in ("files", "xlsx")],
    ids=lambda p: p.stem,
)
def test_lower_floors_touch_no_files_and_ask_no_clock(path: Path) -> None:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    called = {n.func.id for n in ast.walk(tree) if isinstance(n, ast.Call) and isinstance(n.func, ast.Name)}
    assert not called & TOUCHES_FILES
    attributes = {n.attr for n in ast.walk(tree) if isinstance(n, ast.Attribute)}
    assert not attributes & {"today", "now", "utcnow"}, "today is passed down from the command line"
    roots = {name.split(".")[0] for name in imports(path)}
    assert not roots & (FILE_MODULES | FLOOR_4_ONLY)


def test_season_and_reports_do_not_know_each_other() -> None:
    for path in MODULES:
        if part(path) == "season":
            assert not [n for n in imports(path) if n.startswith("forcing.reports")], path
        if part(path) == "reports":
            assert not [n for n in imports(path) if n.startswith("forcing.season")], path


def test_help_is_light() -> None:
    code = (
        "import sys\n"
        "from click.testing import CliRunner\n"
        "from forcing.cli import main\n"
        "result = CliRunner().invoke(main, ['--help'])\n"
        "assert result.exit_code == 0, result.output\n"
        "print(sorted({m.split('.')[0] for m in sys.modules}))\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    loaded = set(ast.literal_eval(done.stdout.strip()))
    assert not loaded & HEAVY


def test_every_parameter_of_a_recipe_is_a_word_of_the_design() -> None:
    # DESIGN section 6, the words of crops.parameter, restated here.
    from forcing.model import PARAMETERS

    contract = """
        cold_min cold_target cold_max cold_curve rooting rooting_at base cap reference bench_days
        bench_days_min days_saved line_from line_to store_at pot_by
        potted_wait earliest shoots bud colour bench_low bench_high hold hold_max
        display_reference display_days display_base display_longest frost spread bulbs_per_pot pot
    """
    missing = [word for word in contract.split() if word not in PARAMETERS]
    assert missing == []


def test_only_declared_libraries_are_imported() -> None:
    # The wheel is installed without the test extra: what the package imports must be among its dependencies.
    declared = tomllib.loads((PACKAGE.parent / "pyproject.toml").read_text(encoding="utf-8"))["project"][
        "dependencies"
    ]
    roots = {re.split(r"[<>=!~\[ ]", text)[0].lower().removeprefix("python-") for text in declared}
    roots |= {"forcing"} | ({"pil"} if "pillow" in roots else set())  # pillow is imported by its old name
    used = {name.split(".")[0] for path in MODULES for name in imports(path)}
    assert {name.lower() for name in used} - set(sys.stdlib_module_names) - roots == set()


def private_names(path: Path) -> list[str]:
    """Names of the package with a leading underscore that a file imports or reaches for."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    own, found = set(), []
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and (node.module or "").split(".")[0] == "forcing":
            own |= {alias.asname or alias.name for alias in node.names}
            found += [alias.name for alias in node.names if re.match(r"_[^_]", alias.name)]
    for node in ast.walk(tree):
        if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and node.value.id in own:
            found += [f"{node.value.id}.{node.attr}"] if re.match(r"_[^_]", node.attr) else []
    return found


def test_no_test_pins_a_private_name() -> None:
    assert [(p.name, names) for p in Path(__file__).parent.rglob("*.py") if (names := private_names(p))] == []
