"""The house stands: code imports from the floors below only, packages hand on nothing, the top is tidy."""

import ast
import functools
import graphlib
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
PACKAGE = "cel_check"

FLOORS = {
    "__main__": 10,
    "cli": 9,
    "review": 8,
    "episode": 7,
    "report": 7,
    "scene": 6,
    "checks": 5,
    "drawing": 4,
    "scan": 4,
    "model": 3,
    "picture": 3,
    "color": 2,
    "errors": 1,
    "faults": 1,
    "settings": 1,
    "version": 1,
}
"""Of DEVELOPERS.md. A package or module that is not here has no place yet: give it one there and here."""

LAZY = {
    "cel_check/cli/episode.py": "the libraries of --cluster are an extra, which need not be installed",
    "cel_check/cli/main.py": "a command's module is imported when it is called: --help starts at once",
    "cel_check/episode/worker.py": "what checks is imported by workers: a night with nothing new starts none",
    "cel_check/model/spectra.py": "colour-science takes a second and a half, and only spectra need it",
    "cel_check/color/declared.py": "colormath takes a third of a second to import, and few models need it",
}
"""The files that may import inside a function, each with its reason."""

TOP = {"README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml", "cel_check", "tests", "palettes", "samples"}
MADE = {"__pycache__", "venv", "build", "dist", "check"}
"""What builds and runs leave behind; .gitignore names the same."""

MACHINE = re.compile(r"(?<![\w.~])/(?:home|root|Users|work|mnt|srv)/\w")
UNFINISHED = re.compile(r"\b(?:TODO|FIXME|XXX)\b")
TEXT = {".py", ".md", ".toml", ".html", ".css", ".csv", ".json", ".txt", ""}


def files() -> tuple[Path, ...]:
    """Every file of the project, without asking git, which a bare machine does not have."""
    return tuple(_walk(ROOT))


def _walk(folder: Path) -> Iterator[Path]:
    for path in sorted(folder.iterdir()):
        if path.name in MADE or path.suffix == ".egg-info" or path.name == ".git":
            continue
        if path.is_file():
            yield path
        elif path.is_dir() and (not path.name.startswith(".") or path.name == ".ci"):
            yield from _walk(path)


@functools.cache
def tree_of(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"), str(path))


MODULES = tuple(path for path in files() if path.is_relative_to(ROOT / PACKAGE) and path.suffix == ".py")
CODE = tuple(path for path in files() if path.suffix == ".py")


def name_of(path: Path) -> str:
    """`cel_check.color.spaces` for its file."""
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


NAMES = {name_of(path) for path in MODULES}


def imported(path: Path) -> set[str]:
    """The project's own modules that a file imports, wherever in the file it does so."""
    found: set[str] = set()
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            module = node.module or ""
            inner = {f"{module}.{alias.name}" for alias in node.names} & NAMES
            found |= inner or {module}
    return {name for name in found if name.split(".")[0] == PACKAGE}


def room_of(name: str) -> str:
    return name.split(".")[1]


def shown(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


def test_every_package_has_a_floor() -> None:
    rooms = {room_of(name) for name in NAMES if "." in name}
    assert rooms <= set(FLOORS)


def test_the_developers_guide_tells_the_same_floors() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| (\d+) \| ([^|]+) \|", text, re.MULTILINE)
    told = {room: int(floor) for floor, rooms in rows for room in re.findall(r"`(\w+)(?:/|\.py)`", rooms)}
    stands = {room for name in NAMES if "." in name for room in [room_of(name)]} - {"__main__"}
    assert told == {room: FLOORS[room] for room in stands}


@pytest.mark.parametrize("path", MODULES, ids=shown)
def test_imports_come_from_floors_below(path: Path) -> None:
    if path.name == "__init__.py":
        return
    own = room_of(name_of(path))
    for name in imported(path):
        assert "." in name, f"{shown(path)} imports the whole package"
        other = room_of(name)
        inside = other == own and path.parent != ROOT / PACKAGE
        assert inside or FLOORS[other] < FLOORS[own], f"{shown(path)} may not import {name}"


def test_no_import_is_relative() -> None:
    for path in CODE:
        levels = [node.level for node in ast.walk(tree_of(path)) if isinstance(node, ast.ImportFrom)]
        assert not any(levels), shown(path)


def test_nothing_is_imported_inside_a_function_without_a_reason() -> None:
    found = {shown(path) for path in MODULES if any(_late_imports(path))}
    assert found == set(LAZY)


CHECKING = {"cv2", "imagecodecs", "kornia_rs", "PIL", "tifffile", "skimage", "colormath"}


def test_a_night_starts_without_the_libraries_that_check() -> None:
    """Where nothing has changed no worker is started, and half of the run would go into importing them."""
    code = "import sys, cel_check.cli.episode; print(*sys.modules)"
    command = [sys.executable, "-c", code]
    found = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True).stdout.split()
    assert "cel_check.episode.night" in found
    assert CHECKING & set(found) == set()


def _late_imports(path: Path) -> Iterator[ast.AST]:
    for function in ast.walk(tree_of(path)):
        if not isinstance(function, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda):
            continue
        for node in ast.walk(function):
            called = getattr(node.func, "id", getattr(node.func, "attr", "")) if _is_call(node) else ""
            if isinstance(node, ast.Import | ast.ImportFrom) or called in {"import_module", "__import__"}:
                yield node


def _is_call(node: ast.AST) -> bool:
    return isinstance(node, ast.Call)


def test_no_module_imports_itself_through_others() -> None:
    graph = {name_of(path): imported(path) for path in MODULES}
    graphlib.TopologicalSorter(graph).prepare()  # raises CycleError, which names the circle


def test_packages_hand_on_nothing() -> None:
    told = [shown(path) for path in CODE if path.name == "__init__.py" and path.stat().st_size]
    assert told == []
    assert not list((ROOT / "tests").rglob("__init__.py"))


def test_opencv_reads_no_picture() -> None:
    """OpenCV gives wrong pixels for planar 16-bit TIFF, and None in place of a reason: it decodes nothing."""
    for path in CODE:
        for node in ast.walk(tree_of(path)):
            if isinstance(node, ast.Attribute) and getattr(node.value, "id", "") == "cv2":
                assert not node.attr.startswith(("imread", "imdecode")), f"{shown(path)}:{node.lineno}"
            if isinstance(node, ast.ImportFrom):
                assert node.module != "cv2", f"{shown(path)}:{node.lineno}: write cv2.NAME"


def test_only_the_command_line_prints() -> None:
    for path in MODULES:
        calls = [getattr(node.func, "id", "") for node in ast.walk(tree_of(path)) if _is_call(node)]
        assert "print" not in calls, shown(path)


def test_the_top_level_is_tidy() -> None:
    names = {path.name for path in ROOT.iterdir() if not path.name.startswith(".") and path.name not in MADE}
    assert {name for name in names if not name.endswith(".egg-info")} <= TOP


def test_nothing_tells_of_one_machine_or_is_left_unfinished() -> None:
    for path in files():
        if path.suffix not in TEXT or path == Path(__file__).resolve():
            continue
        text = path.read_text(encoding="utf-8", errors="replace")
        for pattern in (MACHINE, UNFINISHED):
            found = pattern.search(text)
            assert not found, f"{shown(path)} says {found.group() if found else ''}"
