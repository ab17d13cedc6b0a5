"""The rooms introduce themselves, stay small, and stack one way."""

import ast
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path

ROOMS = {
    "bench", "cli", "config", "demo", "documents", "exchange", "jobs", "parameters", "planning", "practice",
    "preparation", "quality", "records", "science", "web",
}  # fmt: skip
THINKING = {"bench", "planning", "practice", "preparation", "quality", "science"}
LINES_MAX = 400


def modules(root: Path) -> Iterator[Path]:
    """Yield every module of the product and of its tests that a person wrote."""
    for folder in ("src", "tests", "benchmarks"):
        yield from (file for file in sorted((root / folder).rglob("*.py")) if "migrations" not in file.parts)


def test_the_layers_hold(root: Path) -> None:
    found = subprocess.run(
        [Path(sys.executable).with_name("lint-imports"), "--no-cache"],
        cwd=root,
        capture_output=True,
        text=True,
        check=False,
    )
    assert found.returncode == 0, found.stdout


def test_every_room_says_what_it_holds_what_it_imports_and_what_it_never_does(root: Path) -> None:
    for room in sorted((root / "src/plasmawright").iterdir()):
        if not room.is_dir() or room.name == "__pycache__":
            continue
        assert room.name in ROOMS, f"{room.name} has no place in house.md"
        introduction = ast.get_docstring(ast.parse((room / "__init__.py").read_text(encoding="utf-8"))) or ""
        for line in ("Holds:", "Imports:", "Never:"):
            assert line in introduction, f"{room.name}/__init__.py does not say {line}"


def test_every_thinking_room_is_kept_from_frameworks_and_disk(root: Path) -> None:
    settings = tomllib.loads((root / "pyproject.toml").read_text(encoding="utf-8"))
    contract = next(c for c in settings["tool"]["importlinter"]["contracts"] if c["name"].startswith("Thinking"))
    there = {room for room in THINKING if (root / "src/plasmawright" / room).is_dir()}
    assert there == {name.removeprefix("plasmawright.") for name in contract["source_modules"]}


def test_no_module_is_longer_than_four_hundred_lines(root: Path) -> None:
    lengths = {file: len(file.read_text(encoding="utf-8").splitlines()) for file in modules(root)}
    assert lengths
    assert {str(file): length for file, length in lengths.items() if length > LINES_MAX} == {}


def test_every_module_says_what_it_is(root: Path) -> None:
    silent = [str(file) for file in modules(root) if not ast.get_docstring(ast.parse(file.read_text(encoding="utf-8")))]
    assert silent == []
