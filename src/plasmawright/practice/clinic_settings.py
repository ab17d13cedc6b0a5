"""What a clinic chooses for itself, because no source settles it: each choice beside the published spread."""

from collections.abc import Mapping
from dataclasses import dataclass, fields
from enum import StrEnum

from plasmawright.errors import Refusal
from plasmawright.parameters.table import rule
from plasmawright.practice.guards import refuse_outside
from plasmawright.practice.statements import cited

IDENTIFIERS = ("name", "birth_on", "record_number")
IDENTIFIERS_MIN = 2
YES, NO = "yes", "no"
Chosen = Mapping[str, float | bool]


class Part(StrEnum):
    """Where a choice is felt."""

    INTAKE = "Intake"
    BENCH = "Bench"
    LABEL = "Labels"


@dataclass(frozen=True, kw_only=True)
class NumberSetting:
    """A number a clinic may choose between ``low`` and ``high``; ``row`` is the rule that stands until it does."""

    key: str
    part: Part
    words: str
    unit: str
    row: str
    low: float
    high: float
    spread: str

    @property
    def default_text(self) -> str:
        """Return what stands until the clinic chooses."""
        return f"{rule(self.row).value:g}"

    @property
    def source(self) -> str:
        """Return where the default comes from."""
        return cited(rule(self.row))

    def read(self, text: str) -> float:
        """Return the number that ``text`` spells; refuses what is none or lies outside the range."""
        remedy = f"Write a number of {self.unit}."
        try:
            value = float(text)
        except ValueError as fault:
            limit = f"it must be a number between {self.low:g} and {self.high:g}"
            raise Refusal(f"settings.{self.key}", text or "empty", limit, remedy) from fault
        refuse_outside(f"settings.{self.key}", value, low=self.low, high=self.high, remedy=remedy)
        return value


@dataclass(frozen=True, kw_only=True)
class YesNoSetting:
    """A choice between yes and no."""

    key: str
    part: Part
    words: str
    default_text: str
    spread: str
    unit: str = ""
    source: str = "this product's own choice, no published limit"

    def read(self, text: str) -> bool:
        """Return the answer; refuses everything but yes and no."""
        if text not in {YES, NO}:
            raise Refusal(f"settings.{self.key}", text or "empty", "it must be yes or no", "Choose one of the two.")
        return text == YES


Setting = NumberSetting | YesNoSetting

SETTINGS: tuple[Setting, ...] = (
    NumberSetting(
        key="platelets_relative_1e9_per_l", part=Part.INTAKE, words="Platelets: relative caution below",
        unit="×10⁹/L", row="platelets_relative_1e9_per_l", low=20, high=200,
        spread="Published: 100, as 10⁵ per µL, which some pages print without its superscript.",
    ),
    NumberSetting(
        key="platelets_critical_1e9_per_l", part=Part.INTAKE, words="Platelets: absolute reason below",
        unit="×10⁹/L", row="platelets_critical_1e9_per_l", low=10, high=150,
        spread="Published as “critical thrombocytopenia”, with no number; local rules often take 50.",
    ),
    NumberSetting(
        key="hemoglobin_relative_g_per_dl", part=Part.INTAKE, words="Haemoglobin: relative caution below",
        unit="g/dL", row="hemoglobin_relative_g_per_dl", low=7, high=14,
        spread="Published: 10 as a relative caution here; the world's cut-offs are 12 for women and 13 for men.",
    ),
    NumberSetting(
        key="count_age_days_max", part=Part.INTAKE, words="A blood count is old after",
        unit="days", row="count_age_days_max", low=0, high=365,
        spread="No published limit was found.",
    ),
    NumberSetting(
        key="local_steroid_days", part=Part.INTAKE, words="Steroid injection at the site: caution within",
        unit="days", row="local_steroid_days", low=0, high=365,
        spread="Published: 1 month.",
    ),
    NumberSetting(
        key="systemic_steroid_days", part=Part.INTAKE, words="Systemic steroid: caution within",
        unit="days", row="systemic_steroid_days", low=0, high=365,
        spread="Published: 2 weeks.",
    ),
    NumberSetting(
        key="antiinflammatory_h", part=Part.INTAKE, words="Anti-inflammatory medicine: caution within",
        unit="h", row="antiinflammatory_h", low=6, high=336,
        spread="Published: 48 h; by recovery of platelets 6-12 h for ibuprofen and diclofenac, 24 h for indomethacin, "
        "24-48 h for naproxen. Clinics use 48 h, 7 to 10 days or 2 weeks.",
    ),
    NumberSetting(
        key="aspirin_days", part=Part.INTAKE, words="Aspirin: caution within",
        unit="days", row="aspirin_days", low=1, high=28,
        spread="Published: 7 to 10 days, a platelet's life. Some clinics use 2 weeks.",
    ),
    NumberSetting(
        key="fluoroquinolone_days", part=Part.INTAKE, words="Fluoroquinolone: caution within",
        unit="days", row="fluoroquinolone_days", low=0, high=730,
        spread="One trial left out 6 months; the label's warning speaks of hours to months.",
    ),
    NumberSetting(
        key="hold_h", part=Part.BENCH, words="From the draw to release, at most",
        unit="h", row="hold_h", low=0.5, high=6,
        spread="Published: 4 h from the start of preparation, 1 h in an older edition; other pages say 3 h at best and "
        "4 to 6 h at most. Blood and plasma kept 4 h had lost none of two proteins measured, which tells "
        "nothing about germs.",
    ),
    NumberSetting(
        key="open_caution_min", part=Part.BENCH, words="From the first cap off, caution after",
        unit="min", row="open_caution_min", low=10, high=240,
        spread="Common practice, without a source.",
    ),
    NumberSetting(
        key="stand_min", part=Part.BENCH, words="Drawn tubes stand for",
        unit="min", row="stand_min", low=0, high=120,
        spread="No published limit was found.",
    ),
    NumberSetting(
        key="rest_min", part=Part.BENCH, words="The pellet rests for",
        unit="min", row="rest_min", low=0, high=60,
        spread="Published for counts: about 10 min or more.",
    ),
    NumberSetting(
        key="count_tube_ml", part=Part.BENCH, words="Count tube, drawn in the same stick",
        unit="mL", row="count_tube_ml", low=0, high=10,
        spread="Small tubes hold 2 to 4 mL; 0 draws none.",
    ),
    YesNoSetting(
        key="solo", part=Part.BENCH, words="One person may check their own run",
        default_text=NO, spread="The record then says “not witnessed”.",
    ),
    NumberSetting(
        key="solo_pause_s", part=Part.BENCH, words="Between two read-backs by one person, at least",
        unit="s", row="solo_pause_s", low=60, high=900,
        spread="No published limit was found; never less than a minute here.",
    ),
    YesNoSetting(
        key="activation", part=Part.BENCH, words="This clinic activates",
        default_text=NO, spread="Used by some and left out by others; the step asks either way.",
    ),
    YesNoSetting(
        key="label_name", part=Part.LABEL, words="Labels carry the name",
        default_text=YES, spread="Published: two identifiers at least, never a room.",
    ),
    YesNoSetting(
        key="label_birth_on", part=Part.LABEL, words="Labels carry the birth date",
        default_text=YES, spread="Published: two identifiers at least, never a room.",
    ),
    YesNoSetting(
        key="label_record_number", part=Part.LABEL, words="Labels carry the record number",
        default_text=YES, spread="Published: two identifiers at least, never a room.",
    ),
)  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Thresholds:
    """The clinic's numbers that an intake is judged by; each stands in :data:`SETTINGS` under its own name."""

    platelets_relative_1e9_per_l: float
    platelets_critical_1e9_per_l: float
    hemoglobin_relative_g_per_dl: float
    count_age_days_max: float
    local_steroid_days: float
    systemic_steroid_days: float
    antiinflammatory_h: float
    aspirin_days: float
    fluoroquinolone_days: float


def setting(key: str) -> Setting:
    """Return the setting called ``key``.

    Raises
    ------
    Refusal
        If there is none.
    """
    for found in SETTINGS:
        if found.key == key:
            return found
    raise Refusal("settings", key, "it must be one of the settings listed", "Choose one of the page's rows.")


def chosen_from(texts: Mapping[str, str]) -> Chosen:
    """Return every setting's value, from what a clinic chose and from the defaults for the rest."""
    return {known.key: known.read(texts.get(known.key, known.default_text)) for known in SETTINGS}


def number(chosen: Chosen, key: str) -> float:
    """Return one number of a clinic's choices."""
    return float(chosen[key])


def label_identifiers(chosen: Chosen) -> tuple[str, ...]:
    """Return the identifiers that stand on this clinic's labels."""
    return tuple(name for name in IDENTIFIERS if chosen[f"label_{name}"])


def thresholds_from(chosen: Chosen) -> Thresholds:
    """Return the numbers that an intake is judged by."""
    return Thresholds(**{field.name: number(chosen, field.name) for field in fields(Thresholds)})


def refuse_contradiction(chosen: Chosen, key: str) -> None:
    """Refuse choices that cannot stand together, at the one chosen last.

    Raises
    ------
    Refusal
        If fewer than two identifiers would stand on a label, or the absolute limit of platelets above the relative one.
    """
    field = f"settings.{key}"
    if len(label_identifiers(chosen)) < IDENTIFIERS_MIN:
        limit = f"{IDENTIFIERS_MIN} identifiers must stand on a label"
        raise Refusal(field, NO, limit, "Say yes to another identifier first.")
    relative, critical = (number(chosen, f"platelets_{level}_1e9_per_l") for level in ("relative", "critical"))
    if critical > relative:
        limit = f"the absolute limit ({critical:g}) must not lie above the relative one ({relative:g})"
        raise Refusal(field, chosen[key], limit, "Change the other of the two first.")
