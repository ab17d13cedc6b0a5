"""Sheets to bytes: tagged, archivable PDF; the same sheet is the same bytes."""

import json
from dataclasses import asdict, is_dataclass
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import typst

from plasmawright.documents.legible import all_legible, typefaces
from plasmawright.documents.made import Made, Printed

if TYPE_CHECKING:
    from plasmawright.documents.command_card import CommandCard
    from plasmawright.documents.downtime import DowntimePack
    from plasmawright.documents.labels import LabelSheet
    from plasmawright.documents.rack_card import RackCards
    from plasmawright.documents.record import RunRecord
    from plasmawright.documents.worksheet import WorksheetSheet

Paper = Literal["a4", "letter"]

STANDARDS: list[Literal["ua-1", "a-2a"]] = ["ua-1", "a-2a"]
"""Always on: a reader's software can speak the paper, and it opens the same in twenty years."""
PAPERS = {"a4": "a4", "letter": "us-letter"}


def render_worksheet(sheet: "WorksheetSheet", *, paper: Paper) -> bytes:
    """Return the worksheet as PDF, one page or two."""
    return _render("worksheet.typ", sheet, sheet.made, paper)


def render_rack_cards(cards: "RackCards", *, paper: Paper) -> bytes:
    """Return the rack cards as PDF, to be printed at 100 %."""
    return _render("rack_card.typ", cards, cards.made, paper)


def render_labels(sheet: "LabelSheet", *, paper: Paper) -> bytes:
    """Return labels on sheets of their grid, and a last page on plain paper that says how to put them on."""
    return _render("labels.typ", sheet, sheet.made, paper)


def render_single_labels(sheet: "LabelSheet", *, paper: Paper) -> bytes:
    """Return labels one to a page of the label's own size, for a printer of rolls."""
    return _render("single_labels.typ", sheet, sheet.made, paper)


def render_command_card(card: "CommandCard", *, paper: Paper) -> bytes:
    """Return the card of scanner commands, one page."""
    return _render("command_card.typ", card, card.made, paper)


def render_record(record: "RunRecord", *, paper: Paper) -> bytes:
    """Return what happened in a run beside what was planned."""
    return _render("record.typ", record, record.made, paper)


def render_downtime_pack(pack: "DowntimePack", *, paper: Paper) -> bytes:
    """Return the papers on which a day goes on without the machine."""
    return _render("downtime.typ", pack, pack.made, paper)


def _render(template: str, sheet: object, made: Made | Printed, paper: Paper) -> bytes:
    """Hand ``sheet`` to a template as JSON, never as markup."""
    if not is_dataclass(sheet) or isinstance(sheet, type):
        raise TypeError("A sheet is a dataclass.")
    data = asdict(sheet, dict_factory=_without_made)
    data["at"] = list(made.at_utc.timetuple()[:6])
    data["paper"] = PAPERS[paper]
    folder = Path(str(files("plasmawright.documents"))) / "typst"
    made_pdf = typst.compile(
        folder / template,
        root=folder,
        font_paths=[typefaces()],
        ignore_system_fonts=True,
        format="pdf",
        sys_inputs={"sheet": json.dumps(all_legible(data), allow_nan=False)},
        pdf_standards=[*STANDARDS],
        timestamp=made.at_utc,
    )
    if not isinstance(made_pdf, bytes):
        raise TypeError("A PDF is one run of bytes.")
    return made_pdf


def _without_made(fields: list[tuple[str, object]]) -> dict[str, object]:
    """Return a sheet's fields as JSON holds them; what made it is printed from its words."""
    return {key: value for key, value in fields if key != "made"}
