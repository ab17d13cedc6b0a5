"""The card of scanner commands, read back by another program."""

import shutil
from datetime import UTC, datetime
from pathlib import Path

import pytest
from tests.documents.printed_pages import codes_in, pictures_of
from tests.documents.read_back import SIZES, sizes_of, standards_of, words_of

from plasmawright.documents.command_card import command_card
from plasmawright.documents.made import Printed
from plasmawright.documents.render import Paper, render_command_card
from plasmawright.practice.scanner_commands import ScannerCommand, command_of

CARD = command_card(Printed(at=datetime(2026, 3, 4, 9, 30, tzinfo=UTC), version="0.1.0"))


@pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="poppler-utils is not installed")
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_every_command_reads_back_from_the_card(paper: Paper, tmp_path: Path) -> None:
    # 75 dots to the inch: a worn film and a cheap scanner
    (page,) = pictures_of(render_command_card(CARD, paper=paper), tmp_path, dots_per_inch=75)
    assert codes_in(page) == sorted(ScannerCommand)


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_card_is_one_tagged_page(paper: Paper) -> None:
    pdf = render_command_card(CARD, paper=paper)
    assert sizes_of(pdf) == [pytest.approx(SIZES[paper], abs=0.5)]
    assert standards_of(pdf) == (True, True, True)
    (words,) = words_of(pdf)
    for name in ("NEXT", "RED SEEN", "DIFFERS", "STOP"):
        assert name in words


def test_what_was_scanned_is_known_with_and_without_its_colon() -> None:
    assert [command_of(command) for command in ScannerCommand] == list(ScannerCommand)
    assert command_of(" pwredseen\r") is ScannerCommand.RED_SEEN  # a scanner set to another keyboard's layout
    assert command_of("7K2M9QXA") is None
    assert command_of("") is None
