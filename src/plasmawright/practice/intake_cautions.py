"""What the answers of an intake come to: cautions, each with its source and its published weight.

Every one is for the clinician to weigh. None speaks of a diagnosis, and none tells anybody what to do with a medicine.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from plasmawright.parameters.table import rule
from plasmawright.practice.cautions import (
    CLINICIAN_DECIDES,
    NO_DATA_ON_PREGNANCY,
    Trimester,
    caution_anaemia_cutoff,
    caution_low_hemoglobin,
    caution_low_platelets,
    caution_old_count,
)
from plasmawright.practice.clinic_settings import Thresholds
from plasmawright.practice.intake import COUNT, PRESCRIBER, QUESTIONS, Answers
from plasmawright.practice.person import SexForBloodVolume
from plasmawright.practice.statements import Caution, Status, cited
from plasmawright.practice.tubes import caution_high_hematocrit

DAYS_PER_YEAR = 365.25


class Weight(StrEnum):
    """How a source ranks a caution. All but ``CARE`` stand until a clinician goes on with a reason."""

    ABSOLUTE = "absolute"
    RELATIVE = "relative"
    UNGRADED = "not ranked by a source"
    CARE = "to take care of"


@dataclass(frozen=True, kw_only=True)
class Standing:
    """A caution that an answer led to, with its weight."""

    question: str
    weight: Weight
    caution: Caution

    @property
    def needs_reason(self) -> bool:
        """Return whether going on needs a clinician's reason."""
        return self.weight is not Weight.CARE

    def as_document(self) -> dict[str, str]:
        """Return the caution as it is kept."""
        return {"question": self.question, "weight": self.weight.value, **self.caution.as_document()}


@dataclass(frozen=True, kw_only=True)
class Asked:
    """Whom the questions were put to, when, and by which of the clinic's numbers they are judged."""

    on: date
    birth_on: date
    sex: SexForBloodVolume
    thresholds: Thresholds

    @property
    def age_years(self) -> float:
        """Return the age on the day."""
        return (self.on - self.birth_on).days / DAYS_PER_YEAR


Details = Mapping[str, str | float]
Maker = Callable[[Details, Asked], tuple[Weight, str, str, Status] | None]
"""From the details of a question that applies: weight, text, source, status; None where nothing is to be weighed."""


def cautions_from(answers: Answers, asked: Asked) -> tuple[Caution, ...]:
    """Return the cautions alone, in the order of the questions."""
    return tuple(standing.caution for standing in standing_from(answers, asked))


def standing_from(answers: Answers, asked: Asked) -> tuple[Standing, ...]:
    """Return every caution the answers lead to, those of the blood count first."""
    found = list(_of_count(answers, asked))
    for question in QUESTIONS:
        details = answers.applying.get(question.key)
        made = None if details is None else MAKERS[question.key](details, asked)
        if made is not None:
            weight, text, source, status = made
            caution = Caution(text=text, source=source or question.cited, status=status)
            found.append(Standing(question=question.key, weight=weight, caution=caution))
    return tuple(found)


def _of_count(answers: Answers, asked: Asked) -> tuple[Standing, ...]:
    count, limits = answers.count, asked.thresholds
    found: list[tuple[Weight, Caution | None]] = []
    if count.platelets_1e9_per_l is not None:
        critical = count.platelets_1e9_per_l < limits.platelets_critical_1e9_per_l
        low = caution_low_platelets(
            count.platelets_1e9_per_l,
            relative_1e9_per_l=limits.platelets_relative_1e9_per_l,
            critical_1e9_per_l=limits.platelets_critical_1e9_per_l,
        )
        found.append((Weight.ABSOLUTE if critical else Weight.RELATIVE, low))
    if count.hemoglobin_g_per_dl is not None:
        low = caution_low_hemoglobin(count.hemoglobin_g_per_dl, limit_g_per_dl=limits.hemoglobin_relative_g_per_dl)
        found.append((Weight.RELATIVE, low))
        cutoff = caution_anaemia_cutoff(
            hemoglobin_g_per_dl=count.hemoglobin_g_per_dl,
            sex=asked.sex,
            age_years=asked.age_years,
            pregnancy=_trimester(answers),
        )
        found.append((Weight.CARE, cutoff))
    if count.hematocrit_frac is not None:
        found.append((Weight.CARE, caution_high_hematocrit(count.hematocrit_frac)))
    if count.counted_on is not None:
        days_ago = (asked.on - count.counted_on).days
        old = caution_old_count(counted_days_ago=days_ago, days_max=limits.count_age_days_max)
        found.append((Weight.CARE, old))
    return tuple(
        Standing(question=COUNT, weight=weight, caution=caution) for weight, caution in found if caution is not None
    )


def _trimester(answers: Answers) -> Trimester | None:
    stage = answers.applying.get("pregnancy", {}).get("stage")
    return Trimester(str(stage)) if stage in list(Trimester) else None


def _bleeding(details: Details, _asked: Asked) -> tuple[Weight, str, str, Status]:
    if details["kind"] == "dysfunction":
        text = f"A disorder of platelets is listed as an absolute reason against it. {CLINICIAN_DECIDES}"
        return Weight.ABSOLUTE, text, "", Status.PUBLISHED
    text = f"Bleeds or bruises easily and the cause is not known: a count alone does not settle it. {CLINICIAN_DECIDES}"
    return Weight.UNGRADED, text, "", Status.COMMON_PRACTICE


def _infection(details: Details, _asked: Asked) -> tuple[Weight, str, str, Status]:
    words = {
        "site": "Infection at or near the site is listed as an absolute reason against it.",
        "blood": "Infection of the blood, or a circulation that is not steady, is listed as an absolute reason against "
        "it.",
        "recent": "Fever or illness lately is listed as a relative reason against it.",
    }
    weight = Weight.RELATIVE if details["where"] == "recent" else Weight.ABSOLUTE
    return weight, f"{words[str(details['where'])]} {CLINICIAN_DECIDES}", "", Status.PUBLISHED


def _cancer(_details: Details, _asked: Asked) -> tuple[Weight, str, str, Status]:
    text = f"Cancer, above all of blood or bone, is listed as a relative reason against it. {CLINICIAN_DECIDES}"
    return Weight.RELATIVE, text, "", Status.PUBLISHED


def _pregnancy(_details: Details, _asked: Asked) -> tuple[Weight, str, str, Status]:
    text = f"{NO_DATA_ON_PREGNANCY} {CLINICIAN_DECIDES}"
    return Weight.UNGRADED, text, "", Status.COMMON_PRACTICE


def _blood_thinner(details: Details, _asked: Asked) -> tuple[Weight, str, str, Status]:
    words = {
        "anticoagulant": "Taking an anticoagulant: bleeding after each needle is likelier.",
        "antiplatelet": "Taking an antiplatelet medicine: bleeding after each needle is likelier, and the platelets of "
        "the product do less than their count says.",
        "both": "Taking an anticoagulant and an antiplatelet medicine: bleeding after each needle is likelier, and the "
        "platelets of the product do less than their count says.",
    }
    text = f"{words[str(details['kind'])]} {PRESCRIBER} {CLINICIAN_DECIDES}"
    return Weight.UNGRADED, text, "", Status.COMMON_PRACTICE


RECOVERY_ROWS = ("ibuprofen", "diclofenac", "indomethacin", "naproxen")


def _antiinflammatory(details: Details, asked: Asked) -> tuple[Weight, str, str, Status] | None:
    medicine, hours_ago = str(details["medicine"]), float(details["hours_ago"])
    limit_h = asked.thresholds.antiinflammatory_h
    if medicine == "acetaminophen" or hours_ago >= limit_h:
        return None
    row = rule("antiinflammatory_h")
    name = "Another anti-inflammatory medicine" if medicine == "other" else medicine.capitalize()
    recovery, source = "", cited(row)
    if medicine in RECOVERY_ROWS:
        recovered = rule(f"recovery_{medicine}_h")
        recovery = f" Platelets were found to recover by {recovered.value:g} h after it."
        source = f"{source}; {cited(recovered)}"
    text = (
        f"{name} {hours_ago:g} h ago, within this clinic's {limit_h:g} h: platelets may do less at a normal "
        f"count.{recovery} {CLINICIAN_DECIDES}"
    )
    return Weight.RELATIVE, text, source, _status(limit_h, row.value)


def _aspirin(details: Details, asked: Asked) -> tuple[Weight, str, str, Status] | None:
    days_ago, limit = float(details["days_ago"]), asked.thresholds.aspirin_days
    if days_ago >= limit:
        return None
    row = rule("aspirin_days")
    text = (
        f"Aspirin {_ago(days_ago)}, within this clinic's {limit:g} days: it acts on a platelet for the rest of its "
        f"life, and no count shows it. Where it is prescribed, its prescriber alone decides about it. "
        f"{CLINICIAN_DECIDES}"
    )
    return Weight.RELATIVE, text, cited(row), _status(limit, row.value)


def _steroid_local(details: Details, asked: Asked) -> tuple[Weight, str, str, Status] | None:
    days_ago, limit = float(details["days_ago"]), asked.thresholds.local_steroid_days
    if days_ago > limit:
        return None
    row = rule("local_steroid_days")
    text = (
        f"Steroid injected at the site {_ago(days_ago)}, within this clinic's {limit:g} days: a relative reason "
        f"against it. {CLINICIAN_DECIDES}"
    )
    return Weight.RELATIVE, text, cited(row), _status(limit, row.value)


def _steroid_systemic(details: Details, asked: Asked) -> tuple[Weight, str, str, Status] | None:
    days_ago, limit = float(details["days_ago"]), asked.thresholds.systemic_steroid_days
    if days_ago > limit:
        return None
    row = rule("systemic_steroid_days")
    text = (
        f"Steroid by mouth, vein or muscle {_ago(days_ago)}, within this clinic's {limit:g} days: a relative reason "
        f"against it. {PRESCRIBER} {CLINICIAN_DECIDES}"
    )
    return Weight.RELATIVE, text, cited(row), _status(limit, row.value)


def _fluoroquinolone(details: Details, asked: Asked) -> tuple[Weight, str, str, Status] | None:
    days_ago, limit = float(details["days_ago"]), asked.thresholds.fluoroquinolone_days
    if days_ago > limit:
        return None
    row = rule("fluoroquinolone_days")
    text = (
        f"Fluoroquinolone {_ago(days_ago)}, within this clinic's {limit:g} days: tendons can tear for months after it, "
        f"the Achilles tendon above all, and likelier above 60 years or with steroids. {PRESCRIBER} "
        f"{CLINICIAN_DECIDES}"
    )
    return Weight.UNGRADED, text, cited(row), _status(limit, row.value)


def _care(text: str) -> Maker:
    return lambda _details, _asked: (Weight.CARE, text, "", Status.COMMON_PRACTICE)


def _allergy(text: str) -> Maker:
    words = f"{text} {CLINICIAN_DECIDES}"
    return lambda _details, _asked: (Weight.UNGRADED, words, "", Status.COMMON_PRACTICE)


MAKERS: Mapping[str, Maker] = {
    "bleeding": _bleeding,
    "infection": _infection,
    "cancer": _cancer,
    "pregnancy": _pregnancy,
    "blood_thinner": _blood_thinner,
    "antiinflammatory": _antiinflammatory,
    "aspirin": _aspirin,
    "steroid_local": _steroid_local,
    "steroid_systemic": _steroid_systemic,
    "fluoroquinolone": _fluoroquinolone,
    "fainting": _care("Has fainted at a needle: draw and inject lying down, with somebody in the room."),
    "poor_veins": _care("Veins are hard to find: warm the arm, and be ready for a short draw."),
    "allergy_citrate": _allergy("Allergy to citrate: the anticoagulant of every tube, and so the product, holds it."),
    "allergy_chlorhexidine": _care("Allergy to chlorhexidine: use another skin preparation at the arm and the site."),
    "allergy_latex": _care("Allergy to latex: gloves, tourniquet and stoppers without latex."),
    "allergy_anaesthetic": _care("Allergy to a local anaesthetic: say so to whoever injects."),
}
"""One maker for each question; a test demands that none is missing."""


def _status(limit: float, published: float) -> Status:
    return Status.PUBLISHED if limit == published else Status.CLINIC_CHOICE


def _ago(days_ago: float) -> str:
    return "today" if days_ago == 0 else f"{days_ago:g} days ago" if days_ago != 1 else "yesterday"
