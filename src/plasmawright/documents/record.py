"""The record of a run as plain data: what was planned beside what happened, and who says so."""

from dataclasses import dataclass

from plasmawright.documents.made import Printed
from plasmawright.documents.tube_drawing import SpunTube
from plasmawright.documents.worksheet_steps import SheetLine


@dataclass(frozen=True, kw_only=True)
class RecordEvent:
    """One thing that happened.

    Parameters
    ----------
    marks
        Such as ``entered later`` and ``under review``.
    was
        Each earlier wording of an amended entry, the first one first: an old value stays in sight.
    """

    at: str
    by: str
    words: str
    marks: tuple[str, ...] = ()
    was: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class RecordStep:
    """One step: what the plan said, and what was entered."""

    title: str
    planned: tuple[SheetLine, ...]
    happened: tuple[RecordEvent, ...]


@dataclass(frozen=True, kw_only=True)
class RecordFact:
    """One line of a list: what it is called, what it says, and whether that is only predicted."""

    name: str
    words: str
    predicted: bool = False


@dataclass(frozen=True, kw_only=True)
class RecordCaution:
    """A caution that stood at intake, and why the clinician went on."""

    text: str
    source: str
    reason: str


@dataclass(frozen=True, kw_only=True)
class RecordForesight:
    """What was predicted of one thing before and after something was seen, and how far that sight helps at all."""

    seen: str
    what: str
    before: str
    after: str
    words: str = ""


@dataclass(frozen=True, kw_only=True)
class RecordLot:
    """One lot that touched this blood."""

    supply: str
    number: str
    expiry: str
    quantity: str


@dataclass(frozen=True, kw_only=True)
class RecordVessel:
    """One vessel and what it held."""

    code: str
    vessel: str
    holds: str
    scanned: str


@dataclass(frozen=True, kw_only=True)
class RecordSignature:
    """One signature with its meaning; where no second person stood behind it, the paper says `not witnessed`."""

    meaning: str
    signer: str
    at: str
    witnessed: bool
    words: str = ""


@dataclass(frozen=True, kw_only=True)
class LedgerHead:
    """The last line of the clinic's ledger when the record was printed."""

    seq: int
    digest: str


@dataclass(frozen=True, kw_only=True)
class RunRecord:
    """Everything the record prints; a list without entries prints that there are none.

    Parameters
    ----------
    identifiers
        The patient as the record knows them, each with its name.
    outcome
        The one thing a reader looks for first, such as ``Released 2026-03-04 11:02``.
    setting
        Who worked: two people, or the solo setting with the words ``not witnessed``.
    zone
        Of every time on the paper, such as ``UTC``.
    seen_mm
        Where the red was really seen after the soft spin, for the drawing; ``None`` when nobody measured.
    """

    code: str
    clinic: str
    identifiers: tuple[RecordFact, ...]
    practice: bool
    outcome: str
    setting: str
    summary: tuple[RecordFact, ...]
    intake: tuple[RecordFact, ...]
    cautions: tuple[RecordCaution, ...]
    steps: tuple[RecordStep, ...]
    tube: SpunTube | None
    stop_words: str
    interface_words: str
    seen_mm: float | None
    foresights: tuple[RecordForesight, ...]
    clocks: tuple[RecordFact, ...]
    deviations: tuple[RecordEvent, ...]
    mishaps: tuple[RecordEvent, ...]
    vessels: tuple[RecordVessel, ...]
    lots: tuple[RecordLot, ...]
    signatures: tuple[RecordSignature, ...]
    disposal: tuple[RecordEvent, ...]
    head: LedgerHead
    zone: str
    plan_words: str
    made_words: str
    made: Printed
