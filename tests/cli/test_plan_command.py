"""`plan` on visit files, as a script or a person runs it."""

import json
import subprocess
import sys
from pathlib import Path

import pytest
from pypdf import PdfReader

from plasmawright.cli.paper_file import write_together
from plasmawright.errors import Refusal
from plasmawright.exchange.toml.read import read_document
from plasmawright.parameters.sets import drawn
from plasmawright.planning.choose import choose_plan
from plasmawright.planning.reading import visit_from

COMMAND = str(Path(sys.executable).with_name("plasmawright"))
DRAWS = "32"


def plan(*arguments: object) -> "subprocess.CompletedProcess[str]":
    return subprocess.run(
        [COMMAND, "plan", *map(str, arguments)], capture_output=True, text=True, check=False, timeout=300
    )


@pytest.fixture
def visit(root: Path) -> Path:
    return root / "docs/examples/visit.toml"


@pytest.mark.slow
def test_json_is_the_answers_own_document_and_nothing_else(visit: Path) -> None:
    ran = plan(visit, "--draws", DRAWS, "--seed", 3, "--json")
    assert ran.returncode == 0, ran.stderr
    answer = choose_plan(visit_from(read_document(visit)), drawn(count=32, seed=3))
    assert json.loads(ran.stdout) == json.loads(json.dumps(answer.as_document()))
    assert ran.stderr == ""


@pytest.mark.slow
def test_words_and_both_papers_come_from_one_run(visit: Path, tmp_path: Path) -> None:
    sheet, card = tmp_path / "sheet.pdf", tmp_path / "card.pdf"
    ran = plan(visit, "--draws", DRAWS, "--worksheet", sheet, "--rack-card", card, "--paper", "letter")
    assert ran.returncode == 0, ran.stderr
    assert ran.stdout.startswith("Predicted, not counted.")
    for said in (
        "3. Take the plasma: Stop 4 mm above the red you see.",
        "nine times in ten",
        "What limits it:",
        "Or: ",
    ):
        assert said in ran.stdout
    assert "seed 1, 32 draws" in ran.stdout
    for paper in (sheet, card):
        assert float(PdfReader(paper).pages[0].mediabox.width) == 612  # 8.5 inches
    assert sorted(tmp_path.iterdir()) == [card, sheet]  # nothing half-written is left


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("weight_kg = 68", "weight_kg = -1", "patient.weight_kg is -1"),
        ("places = 8", "placs = 8", "bench.placs"),
        ("volume_ml = 3.0", 'volume_ml = "three"', "sites.0.volume_ml"),
    ],
)
def test_a_visit_that_cannot_be_used_is_refused_and_nothing_is_written(
    visit: Path, tmp_path: Path, old: str, new: str, said: str
) -> None:
    spoilt = tmp_path / "visit.toml"
    spoilt.write_text(visit.read_text(encoding="utf-8").replace(old, new, 1), encoding="utf-8")
    ran = plan(spoilt, "--worksheet", tmp_path / "out.pdf", "--json")
    assert ran.returncode == 2
    assert ran.stdout == ""
    assert said in ran.stderr
    assert len(ran.stderr.splitlines()) <= 3
    assert list(tmp_path.iterdir()) == [spoilt]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--draws", "1"], "--draws is 1; it must lie between 2 and"),
        (["--worksheet", "nowhere/out.pdf"], "--worksheet is out.pdf; its folder is not there"),
        (["--worksheet", "."], "it is a folder"),
        (["--worksheet", "x" * 300 + ".pdf"], "File name too long"),
        (["--worksheet", "a.pdf", "--rack-card", "a.pdf"], "the worksheet goes there already"),
        (["--paper", "a3"], "a4"),
    ],
)
def test_options_that_cannot_be_met_are_refused(visit: Path, arguments: list[str], said: str) -> None:
    ran = plan(visit, *arguments)
    assert ran.returncode == 2
    assert ran.stdout == ""
    assert said in ran.stderr
    assert len(ran.stderr.splitlines()) <= 3


def test_papers_are_written_all_or_none(tmp_path: Path) -> None:
    good, gone = tmp_path / "good.pdf", tmp_path / "a folder taken away meanwhile" / "card.pdf"
    good.write_bytes(b"what was there before")
    with pytest.raises(Refusal, match="it must be writable"):
        write_together({good: b"one", gone: b"two"})
    assert good.read_bytes() == b"what was there before"
    assert list(tmp_path.iterdir()) == [good]


def test_a_paper_replaces_the_one_before_it_whole(tmp_path: Path) -> None:
    paper = tmp_path / "sheet.pdf"
    paper.write_bytes(b"a longer one that was there before")
    write_together({paper: b"new"})
    assert paper.read_bytes() == b"new"
    assert list(tmp_path.iterdir()) == [paper]
