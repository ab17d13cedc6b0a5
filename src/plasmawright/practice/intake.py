"""What is asked once before a visit: the questions, where each comes from, what it changes, and how answers are read.

The answers become cautions in :mod:`plasmawright.practice.intake_cautions`; the clinician decides.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from plasmawright.errors import Refusal, Refusals
from plasmawright.parameters.table import references
from plasmawright.practice.guards import refuse_outside
from plasmawright.practice.units import checked_blood_platelets_1e9_per_l, checked_hemoglobin_g_per_dl

YES, NO = "yes", "no"
COUNT = "count"


@dataclass(frozen=True, kw_only=True)
class Choice:
    """One of the few answers to a further question."""

    value: str
    words: str


@dataclass(frozen=True, kw_only=True)
class Detail:
    """What is asked further when a question applies: one of ``choices``, or a number of ``unit``."""

    key: str
    words: str
    choices: tuple[Choice, ...] = ()
    unit: str = ""
    most: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Question:
    """One thing asked, why, and what an answer of yes changes.

    Parameters
    ----------
    source, locator
        Key of the reference, and where it stands there.
    """

    key: str
    words: str
    changes: str
    source: str
    locator: str
    details: tuple[Detail, ...] = ()

    @property
    def cited(self) -> str:
        """Return one line on where the question comes from and what of it was read."""
        found = references()[self.source]
        return f"{found.seen}: {found.text}; {self.locator}"


def _days_ago(words: str) -> Detail:
    return Detail(key="days_ago", words=words, unit="days ago", most=3650)


CONTRAINDICATIONS, TRADE = "prp_contraindications", "trade"
PRESCRIBER = "Its prescriber alone decides about it."
QUESTIONS: tuple[Question, ...] = (
    Question(
        key="bleeding", words="Bleeding or platelet disorder",
        changes="Whether blood is drawn and injected at all; longer pressure after each needle.",
        source=CONTRAINDICATIONS, locator="absolute: platelet dysfunction syndrome",
        details=(Detail(key="kind", words="Which", choices=(
            Choice(value="dysfunction", words="A known disorder of platelets"),
            Choice(value="easily", words="Bleeds or bruises easily, cause not known"),
        )),),
    ),
    Question(
        key="infection", words="Infection or fever",
        changes="Whether this is the day; at the site or in the blood it is an absolute reason against.",
        source=CONTRAINDICATIONS, locator="absolute: septicaemia, local infection; relative: recent fever or illness",
        details=(Detail(key="where", words="Where", choices=(
            Choice(value="site", words="At or near the site"),
            Choice(value="blood", words="In the blood, or circulation not steady"),
            Choice(value="recent", words="Fever or illness recently, elsewhere"),
        )),),
    ),
    Question(
        key="cancer", words="Cancer, above all of blood or bone",
        changes="Whether to go on, together with whoever treats it.",
        source=CONTRAINDICATIONS, locator="relative: cancer, especially of blood or bone",
    ),
    Question(
        key="pregnancy", words="Pregnant or breast-feeding",
        changes="Which cut-off of haemoglobin applies; there are no data on the procedure.",
        source=TRADE, locator="further cautions, no data",
        details=(Detail(key="stage", words="Which", choices=(
            Choice(value="first", words="First third"),
            Choice(value="second", words="Second third"),
            Choice(value="third", words="Last third"),
            Choice(value="unknown", words="Pregnant, week not known"),
            Choice(value="breast_feeding", words="Breast-feeding"),
        )),),
    ),
    Question(
        key="blood_thinner", words="Anticoagulant or antiplatelet medicine",
        changes="Pressure after each needle; what the platelets can do, which no count shows. " + PRESCRIBER,
        source=TRADE, locator="further cautions, bleeding",
        details=(Detail(key="kind", words="Which", choices=(
            Choice(value="anticoagulant", words="Anticoagulant"),
            Choice(value="antiplatelet", words="Antiplatelet, daily aspirin included"),
            Choice(value="both", words="Both"),
        )),),
    ),
    Question(
        key="antiinflammatory", words="Anti-inflammatory or other pain medicine lately",
        changes="What the platelets can do, which no count shows; perhaps the day.",
        source="leach2024", locator="recovery of platelets by medicine",
        details=(
            Detail(key="medicine", words="Which", choices=(
                Choice(value="ibuprofen", words="Ibuprofen"),
                Choice(value="diclofenac", words="Diclofenac"),
                Choice(value="indomethacin", words="Indomethacin"),
                Choice(value="naproxen", words="Naproxen"),
                Choice(value="other", words="Another anti-inflammatory, or not known"),
                Choice(value="acetaminophen", words="Paracetamol (acetaminophen) alone"),
            )),
            Detail(key="hours_ago", words="Last taken", unit="h ago", most=8760),
        ),
    ),
    Question(
        key="aspirin", words="Aspirin for pain or fever lately",
        changes="What the platelets can do for the rest of their life; perhaps the day.",
        source="leach2024", locator="aspirin acts for a platelet's life, 7-10 days",
        details=(_days_ago("Last taken"),),
    ),
    Question(
        key="steroid_local", words="Steroid injection at the site",
        changes="Perhaps the day.",
        source=CONTRAINDICATIONS, locator="relative: steroid injection at the site within 1 month",
        details=(_days_ago("When"),),
    ),
    Question(
        key="steroid_systemic", words="Steroid by mouth, vein or muscle",
        changes="Perhaps the day. " + PRESCRIBER,
        source=CONTRAINDICATIONS, locator="relative: systemic steroids within 2 weeks",
        details=(_days_ago("Last taken, 0 for today"),),
    ),
    Question(
        key="fluoroquinolone", words="Fluoroquinolone antibiotic",
        changes="How a tendon is needled and loaded afterwards, the Achilles tendon above all.",
        source="fluoroquinolone_label", locator="tendon rupture, hours to months after",
        details=(_days_ago("Last taken, 0 for today"),),
    ),
    Question(
        key="fainting", words="Fainted at a needle before",
        changes="Draw and inject lying down; somebody stays in the room.",
        source=TRADE, locator="drawing blood",
    ),
    Question(
        key="poor_veins", words="Veins hard to find",
        changes="How many tubes the plan may count on; warm the arm, and plan for a short draw.",
        source=TRADE, locator="drawing blood",
    ),
    Question(
        key="allergy_citrate", words="Allergy to citrate",
        changes="The anticoagulant of every tube holds citrate.",
        source=TRADE, locator="further cautions, citrate allergy",
    ),
    Question(
        key="allergy_chlorhexidine", words="Allergy to chlorhexidine",
        changes="Another skin preparation, at the arm and at the site.",
        source=TRADE, locator="further cautions, chlorhexidine allergy",
    ),
    Question(
        key="allergy_latex", words="Allergy to latex",
        changes="Gloves, tourniquet and stoppers without latex.",
        source=TRADE, locator="ask for latex allergy",
    ),
    Question(
        key="allergy_anaesthetic", words="Allergy to a local anaesthetic",
        changes="What is used at the site, if anything.",
        source=TRADE, locator="further cautions, local anaesthetic allergy",
    ),
)  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Count:
    """The last blood count as told; ``None`` was not counted. ``counted_on`` is there whenever a number is."""

    platelets_1e9_per_l: float | None = None
    hemoglobin_g_per_dl: float | None = None
    hematocrit_frac: float | None = None
    counted_on: date | None = None


@dataclass(frozen=True, kw_only=True)
class Answers:
    """Every question answered: those that apply with their details, all others with no."""

    applying: Mapping[str, Mapping[str, str | float]]
    count: Count

    def as_document(self) -> dict[str, object]:
        """Return the answers as they are kept; :func:`answers_from` reads them back."""
        asked = {question.key: self._answer(question.key) for question in QUESTIONS}
        count: dict[str, object] = {key: value for key, value in vars(self.count).items() if value is not None}
        if self.count.counted_on is not None:
            count["counted_on"] = self.count.counted_on.isoformat()
        return {**asked, COUNT: count}

    def _answer(self, key: str) -> dict[str, object]:
        details = self.applying.get(key)
        return {"answer": NO} if details is None else {"answer": YES, **details}


def none_apply() -> dict[str, object]:
    """Return a whole intake in which each question was answered no, and nothing was counted."""
    return Answers(applying={}, count=Count()).as_document()


def answers_from(document: Mapping[str, object], *, on: date) -> Answers:
    """Read what was answered on a day.

    Raises
    ------
    Refusals
        With every question left open, every detail that is missing, and every number that cannot be.
    """
    found: list[Refusal] = []
    applying = {}
    for unknown in sorted(set(document) - {question.key for question in QUESTIONS} - {COUNT}):
        found.append(Refusal("intake", unknown, "it must be one of the questions", "Leave it out."))
    for question in QUESTIONS:
        given = document.get(question.key)
        answer = given.get("answer") if isinstance(given, Mapping) else None
        if answer == YES and isinstance(given, Mapping):
            applying[question.key] = _details(question, given, found)
        elif answer != NO:
            remedy = "Ask, and answer yes or no."
            found.append(Refusal(f"intake.{question.key}", answer or "open", "it must be answered", remedy))
    count = _count(document.get(COUNT, {}), on=on, found=found)
    if found:
        raise Refusals(found)
    return Answers(applying=applying, count=count)


def _details(question: Question, given: Mapping[str, object], found: list[Refusal]) -> dict[str, str | float]:
    details: dict[str, str | float] = {}
    for detail in question.details:
        try:
            details[detail.key] = _detail(f"intake.{question.key}.{detail.key}", detail, given.get(detail.key, ""))
        except Refusal as refusal:
            found.append(refusal)
    return details


def _detail(field: str, detail: Detail, given: object) -> str | float:
    if detail.choices:
        if given not in [choice.value for choice in detail.choices]:
            raise Refusal(field, given or "open", "it must be one of the answers offered", "Choose one.")
        return str(given)
    if isinstance(given, bool) or not isinstance(given, int | float):
        limit = f"it must be a number between 0 and {detail.most:g}"
        raise Refusal(field, given if given != "" else "empty", limit, f"Write how many {detail.unit}.")
    refuse_outside(field, given, low=0, high=detail.most, remedy=f"Write how many {detail.unit}.")
    return float(given)


def _count(given: object, *, on: date, found: list[Refusal]) -> Count:
    told: dict[str, object] = dict(given) if isinstance(given, Mapping) else {}
    told = {key: value for key, value in told.items() if value not in ("", None)}
    platelets, hemoglobin, hematocrit = (_counted(told, key, found) for key in CHECKS)
    counted_on = None
    if told:
        counted_on = _counted_on(told.get("counted_on", ""), on=on, found=found)
    return Count(
        platelets_1e9_per_l=platelets,
        hemoglobin_g_per_dl=hemoglobin,
        hematocrit_frac=hematocrit,
        counted_on=counted_on,
    )


def _checked_hematocrit_frac(hematocrit_frac: float) -> float:
    remedy = "Write the share of red cells as a number below 1, such as 0.41."
    refuse_outside("blood.hematocrit_frac", hematocrit_frac, low=0.05, high=0.70, remedy=remedy)
    return hematocrit_frac


CHECKS = {
    "platelets_1e9_per_l": checked_blood_platelets_1e9_per_l,
    "hemoglobin_g_per_dl": checked_hemoglobin_g_per_dl,
    "hematocrit_frac": _checked_hematocrit_frac,
}


def _counted(told: Mapping[str, object], key: str, found: list[Refusal]) -> float | None:
    value = told.get(key)
    if value is None:
        return None
    field = f"intake.count.{key}"
    if isinstance(value, bool) or not isinstance(value, int | float):
        found.append(Refusal(field, value, "it must be a number", "Write the number as the laboratory gave it."))
        return None
    try:
        return CHECKS[key](value)
    except Refusal as refusal:
        found.append(Refusal(field, value, refusal.limit, refusal.remedy))
        return None


def _counted_on(given: object, *, on: date, found: list[Refusal]) -> date | None:
    try:
        day = date.fromisoformat(str(given))
    except ValueError:
        limit, remedy = "a count needs its date", "Write the day as 2026-03-04."
        found.append(Refusal("intake.count.counted_on", given or "empty", limit, remedy))
        return None
    if day > on:
        found.append(Refusal("intake.count.counted_on", given, f"it must not be after {on}", "Check the date."))
    return day
