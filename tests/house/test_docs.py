"""The papers say what the code does, and their links lead somewhere."""

import re
import runpy
from pathlib import Path

import pytest
import typer
from typer.core import TyperGroup

from plasmawright.cli.main import application

LINK = re.compile(r"\[[^\]]*\]\(([^)\s]+)\)")


def papers(root: Path) -> list[Path]:
    """Return the README and every page of the docs."""
    return [root / "README.md", *sorted((root / "docs").rglob("*.md"))]


def places_in(page: Path) -> set[str]:
    """Return the names under which the headings of a page are linked to."""
    headings = re.findall(r"^#+ +(.*)$", page.read_text(encoding="utf-8"), flags=re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", heading.lower()).replace(" ", "-") for heading in headings}


@pytest.mark.slow
def test_what_the_papers_take_from_the_code_is_what_the_code_says(root: Path) -> None:
    made = runpy.run_path(str(root / "docs/generate.py"))["pages"]()
    assert {"reference/preparation-file.md", "reference/commands.md", "tutorial.md"} <= set(made)
    for name, text in made.items():
        kept = (root / "docs" / name).read_text(encoding="utf-8")
        assert kept == text, f"docs/{name} is out of date: run .venv/bin/python docs/generate.py"


def test_every_link_within_the_papers_leads_to_a_file_and_a_heading(root: Path) -> None:
    followed = 0
    for paper in papers(root):
        for link in LINK.findall(paper.read_text(encoding="utf-8")):
            if ":" in link:  # another machine's business
                continue
            file, _, place = link.partition("#")
            target = (paper.parent / file).resolve() if file else paper
            assert target.exists(), f"{paper.name} links to {link}, which is not there"
            assert not place or place in places_in(target), f"{paper.name} links to {link}: no such heading"
            followed += 1
    assert followed > 20  # a pattern that finds nothing would pass everything


def test_every_command_and_option_stands_in_the_manual(root: Path) -> None:
    page = (root / "docs/reference/commands.md").read_text(encoding="utf-8")
    sections = dict(re.findall(r"^## ([a-z-]+)\n(.*?)(?=^## |\Z)", page, flags=re.MULTILINE | re.DOTALL))
    group = typer.main.get_command(application())
    assert isinstance(group, TyperGroup)
    for name, command in group.commands.items():
        assert name in sections, f"commands.md has no section ## {name}"
        options = [option for parameter in command.params for option in parameter.opts if option.startswith("--")]
        for option in options:  # --data is taken by every command and stands once, at the top
            assert option == "--data" or option in sections[name], f"commands.md does not name {option} of {name}"


def test_the_glossary_is_in_the_order_of_the_alphabet(root: Path) -> None:
    page = (root / "docs/glossary.md").read_text(encoding="utf-8")
    words = re.findall(r"^\*\*(.+?)\*\*", page, flags=re.MULTILINE)
    assert len(words) > 50
    assert words == sorted(words, key=str.lower)


def test_every_silenced_check_stands_among_the_known_exceptions(root: Path) -> None:
    page = (root / "docs/explanation/where-we-fall-short.md").read_text(encoding="utf-8")
    silenced = [
        file.relative_to(root / "src/plasmawright").as_posix()
        for file in sorted((root / "src").rglob("*.py"))
        if re.search(r"# (?:noqa|type: ignore)", file.read_text(encoding="utf-8"))
    ]
    assert silenced
    assert [name for name in silenced if f"`{name}`" not in page] == []
