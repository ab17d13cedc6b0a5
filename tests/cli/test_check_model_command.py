"""`check-model` on folders of cases."""

import json
import shutil
import subprocess
import sys
from importlib.resources import files
from pathlib import Path

import pytest

COMMAND = str(Path(sys.executable).with_name("plasmawright"))


def check_model(*arguments: str) -> "subprocess.CompletedProcess[str]":
    return subprocess.run([COMMAND, "check-model", *arguments], capture_output=True, text=True, check=False)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return a folder that holds one paper and no directions."""
    paper = files("plasmawright.parameters").joinpath("published", "perez2014.toml")
    shutil.copy(str(paper), tmp_path / "perez2014.toml")
    return tmp_path


@pytest.mark.slow
def test_a_folder_of_one_paper_is_judged_and_has_nothing_to_be_foretold_from(folder: Path, tmp_path: Path) -> None:
    page = tmp_path / "page.md"
    ran = check_model("--against", str(folder), "--draws", "64", "--json", "--page", str(page))
    assert ran.returncode == 0, ran.stderr
    told = json.loads(ran.stdout)
    assert [case["id"] for case in told["cases"]] == ["E029-recovery", "E029-fold"]
    assert told["of"] == 2
    assert told["trends"] == []
    for case in told["cases"]:
        assert case["p05"] <= case["p50"] <= case["p95"]
        assert case["constant"] is None
    assert "E029-fold" in page.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (lambda folder: (folder / "perez2014.toml").unlink(), "it must hold at least one .toml file"),
        (lambda folder: (folder / "perez2014.toml").write_text("group ="), "perez2014.toml"),
        (lambda folder: (folder / "perez2014.toml").write_bytes(b"\xff\xfe\x00"), "perez2014.toml"),
        (lambda folder: (folder / "other.toml").mkdir(), "other.toml is a folder"),
        (shutil.rmtree, "it must be a folder"),
    ],
)
def test_a_folder_that_cannot_be_used_is_refused(folder: Path, spoil: "object", said: str) -> None:
    assert callable(spoil)
    spoil(folder)
    ran = check_model("--against", str(folder), "--json")
    assert ran.returncode == 2
    assert ran.stdout == ""
    assert said in ran.stderr
    assert len(ran.stderr.splitlines()) <= 3


def test_too_few_draws_are_refused() -> None:
    ran = check_model("--draws", "3")
    assert ran.returncode == 2
    assert "--draws is 3; it must lie between 64 and" in ran.stderr
