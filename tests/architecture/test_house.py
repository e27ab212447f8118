"""Is the house still the house: imports one way, small rooms, no stray clock or environment?"""

from __future__ import annotations

import ast
import importlib
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PACKAGE = ROOT / "service" / "plafond"
MODULES = sorted(PACKAGE.rglob("*.py"))
TOP = {
    "README.md", "DEVELOPERS.md", "pyproject.toml", "service", "knowledge", "openapi", "tests",
    "examples", "LICENSE", "constraints.txt",
}  # fmt: skip


def tracked() -> list[str]:
    listing = subprocess.run(
        ["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    if listing.returncode:
        pytest.skip("not a git checkout, so what is tracked cannot be told")
    return [name for name in listing.stdout.split("\0") if name]


def imports_of(path: Path) -> set[str]:
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            names |= {f"{node.module}.{alias.name}" for alias in node.names}
    return names


def test_imports_point_one_way_and_the_forbidden_ones_are_absent():
    command = [sys.executable, "-c", "from importlinter.cli import lint_imports_command as c; c()"]
    outcome = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert outcome.returncode == 0, outcome.stdout + outcome.stderr


def test_types_are_strict():
    outcome = subprocess.run(
        [sys.executable, "-m", "mypy"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert outcome.returncode == 0, outcome.stdout


@pytest.mark.parametrize("arguments", [["check"], ["format", "--check"]], ids=["lint", "format"])
def test_the_code_is_clean(arguments):
    outcome = subprocess.run(
        [sys.executable, "-m", "ruff", *arguments, "."],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert outcome.returncode == 0, outcome.stdout


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_a_module_is_small_and_its_functions_are_short(path):
    text = path.read_text()
    assert len(text.splitlines()) <= 600
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            length = (node.end_lineno or node.lineno) - node.lineno + 1
            assert length <= 60, f"{node.name} has {length} lines"


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_only_the_edges_read_a_clock_and_only_settings_reads_the_environment(path):
    name = path.relative_to(PACKAGE).as_posix()
    text = path.read_text()
    if name not in ("web.py", "cli.py"):
        for call in (".now(", ".today(", "time.time(", "utcnow(", "uuid7(", "uuid4("):
            assert call not in text, f"{name} uses {call}"
    if name != "settings.py":
        for word in ("os.environ", "getenv"):
            assert word not in text, f"{name} reads the environment"


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_no_http_exception_is_raised_below_the_views(path):
    name = path.relative_to(PACKAGE).as_posix()
    if name != "web.py" and not name.startswith("views/"):
        assert not any("HTTPException" in one for one in imports_of(path))


@pytest.mark.parametrize("room", ["rulebook"])
def test_a_room_names_what_is_public_and_has_it(room):
    module = importlib.import_module(f"plafond.{room}")
    assert sorted(module.__all__) == sorted(set(module.__all__))
    for name in module.__all__:
        assert hasattr(module, name)


def test_no_room_is_called_by_a_name_that_says_nothing():
    for path in PACKAGE.rglob("*"):
        stem = path.stem
        assert stem not in ("utils", "helpers", "common", "models", "services", "schemas"), path


def test_the_top_level_is_fixed():
    tops = {name.split("/")[0] for name in tracked()}
    assert {name for name in tops if not name.startswith(".")} <= TOP


def test_the_tree_names_no_registry_and_no_path_of_a_machine():
    forbidden = ["py" + "pi.org", "python" + "hosted", "registry." + "npm", "/wo" + "rk/"]
    for name in tracked():
        path = ROOT / name
        if path.is_file() and path.suffix not in (".png", ".ico"):
            text = path.read_text(errors="ignore")
            for word in forbidden:
                assert word not in text, f"{name} names {word}"
