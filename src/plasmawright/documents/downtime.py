"""The downtime pack as plain data: one PDF on which a day goes on without the machine."""

from dataclasses import dataclass

from plasmawright.documents.downtime_form import BlankForm
from plasmawright.documents.labels import LabelSheet
from plasmawright.documents.made import Printed
from plasmawright.documents.rack_card import RackCards
from plasmawright.documents.worksheet import WorksheetSheet

HOW_TO_GO_ON = (
    "Work from the worksheet. Write each time as it happens, from one clock on the wall.",
    "Two identifiers at the chair, said by the patient. Label beside the patient, after filling.",
    "Labels here are on plain paper: cut them out and tape them along the tube, the clear strip free.",
    "A second person reads label, volume and clock aloud and signs on the blank record.",
    "When the machine is back, enter each paper from Today, “Enter from paper”: the time written here is kept beside "
    "the time of entry, marked “entered later”, and does not count as witnessed. Keep the papers.",
)


@dataclass(frozen=True, kw_only=True)
class DowntimeRun:
    """The papers of one planned run; what cannot be printed is ``None`` and has a word in ``missing``."""

    title: str
    identifiers: tuple[str, ...]
    worksheet: WorksheetSheet
    rack_cards: RackCards | None
    labels: LabelSheet | None
    form: BlankForm
    name_alert: bool = False
    missing: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class DowntimePack:
    """All of a day's papers; a day without runs still holds the contents and one blank record."""

    clinic: str
    day: str
    how: tuple[str, ...]
    runs: tuple[DowntimeRun, ...]
    spare: BlankForm
    made_words: str
    made: Printed
