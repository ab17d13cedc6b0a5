"""What must not stand in any file, and what the papers promise."""

import re
import subprocess
from pathlib import Path

# Written apart, so that this file does not hold what it looks for.
HOSTS = ("pypi" + ".org", "pythonhosted" + ".org", "npmjs" + ".org", "npmjs" + ".com", "deb.debian" + ".org")
MACHINE_PATHS = re.compile("|".join(("/" + "work/", "/" + "root/", "/" + "home/", "file:" + "//", "/" + "opt/")))


def committed(root: Path) -> list[Path]:
    """Return every file that is, or would be, in the repository and is text."""
    listed = subprocess.run(
        ["git", "ls-files", "--cached", "--others", "--exclude-standard"],
        cwd=root, capture_output=True, text=True, check=True,
    )  # fmt: skip
    files = [root / line for line in listed.stdout.splitlines()]
    return [file for file in files if file.is_file() and b"\0" not in file.read_bytes()[:1024]]


def test_no_file_names_a_package_registry(root: Path) -> None:
    texts = {file: file.read_text(encoding="utf-8") for file in committed(root)}
    assert texts
    assert [str(file) for file, text in texts.items() if any(host in text for host in HOSTS)] == []


def test_no_file_knows_the_machine_it_was_made_on(root: Path) -> None:
    found = [str(file) for file in committed(root) if MACHINE_PATHS.search(file.read_text(encoding="utf-8"))]
    assert found == []


def test_every_make_command_in_the_papers_exists(root: Path) -> None:
    targets = set(re.findall(r"^([a-z]+):", (root / "Makefile").read_text(encoding="utf-8"), flags=re.MULTILINE))
    for paper in [root / "README.md", *sorted((root / "docs").rglob("*.md"))]:
        named = set(
            re.findall(r"`make ([a-z]+)`|^\s*make ([a-z]+)", paper.read_text(encoding="utf-8"), flags=re.MULTILINE)
        )
        for command in {first or second for first, second in named}:
            assert command in targets, f"{paper.name} names `make {command}`, which the Makefile lacks"


def test_every_requirement_is_locked_by_its_digest(root: Path) -> None:
    for file in sorted((root / "requirements").glob("*.txt")):
        entries = re.findall(r"^[a-z0-9].*?(?=^[a-z0-9]|\Z)", file.read_text(encoding="utf-8"), flags=re.M | re.S)
        assert entries
        assert [entry.splitlines()[0] for entry in entries if "--hash=sha256:" not in entry] == []
