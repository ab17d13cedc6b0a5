"""What a run is foreseen to give, before and after what was seen, and how much each sight helped."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum

from plasmawright.planning.seen_readings import Fate
from plasmawright.planning.surprise import Surprise
from plasmawright.preparation.prediction import six_digits

DOSE_UNKNOWN = "Dose unknown: clumps hold platelets that nobody can count or foresee."


@dataclass(frozen=True, kw_only=True)
class Interval:
    """Where a quantity lies: nine times in ten between ``p05`` and ``p95``."""

    p05: float
    p50: float
    p95: float

    def as_document(self) -> dict[str, float]:
        """Return the interval as the contract prints it."""
        return {"p05": six_digits(self.p05), "p50": six_digits(self.p50), "p95": six_digits(self.p95)}


@dataclass(frozen=True, kw_only=True)
class SitePlatelets:
    """What one site would get; ``None`` where the dose is unknown."""

    id: str
    platelets_1e9: Interval | None


@dataclass(frozen=True, kw_only=True)
class Prediction:
    """What the run gives; predicted, never counted. Platelets are ``None`` where the dose is unknown.

    ``plasma_platelets_1e9`` is what the soft spin leaves in the plasma that is spun on.
    """

    prp_platelets_1e9: Interval | None
    prp_platelets_1e9_per_l: Interval | None
    prp_ml: Interval
    prp_red_cells_1e12_per_l: Interval
    plasma_platelets_1e9: Interval | None
    ppp_platelets_1e9_per_l: Interval | None
    sites: tuple[SitePlatelets, ...]

    def without_dose(self) -> "Prediction":
        """Return the prediction with every platelet withdrawn."""
        return replace(
            self,
            prp_platelets_1e9=None,
            prp_platelets_1e9_per_l=None,
            plasma_platelets_1e9=None,
            ppp_platelets_1e9_per_l=None,
            sites=tuple(replace(site, platelets_1e9=None) for site in self.sites),
        )

    def as_document(self) -> dict[str, object]:
        """Return the prediction as a JSON object."""
        return {
            "prp_platelets_1e9": _told(self.prp_platelets_1e9),
            "prp_platelets_1e9_per_l": _told(self.prp_platelets_1e9_per_l),
            "prp_ml": _told(self.prp_ml),
            "prp_red_cells_1e12_per_l": _told(self.prp_red_cells_1e12_per_l),
            "plasma_platelets_1e9": _told(self.plasma_platelets_1e9),
            "ppp_platelets_1e9_per_l": _told(self.ppp_platelets_1e9_per_l),
            "sites": [{"id": site.id, "platelets_1e9": _told(site.platelets_1e9)} for site in self.sites],
        }


def _told(interval: Interval | None) -> dict[str, float] | None:
    return None if interval is None else interval.as_document()


class Regime(StrEnum):
    """Where the soft spin stands against the time at which most platelets are in the plasma."""

    UNDER_SPUN = "under_spun"
    AT_RIDGE = "at_ridge"
    PAST_RIDGE = "past_ridge"


@dataclass(frozen=True, kw_only=True)
class Help:
    """What one sight did by itself: the share by which it narrows each interval (below 0 where it widens it)."""

    name: str
    words: str
    expected: Interval | None
    read: float | None
    unit: str
    narrows_frac: Mapping[str, float]
    helped: bool

    def as_document(self) -> dict[str, object]:
        """Return the help as a JSON object."""
        return {
            "name": self.name,
            "words": self.words,
            "expected": _told(self.expected),
            "read": None if self.read is None else six_digits(self.read),
            "unit": self.unit,
            "narrows_frac": {name: six_digits(share) for name, share in self.narrows_frac.items()},
            "helped": self.helped,
        }


@dataclass(frozen=True, kw_only=True)
class FateForeseen:
    """What the product would be with one fate of the red tubes; ``prediction`` is ``None`` where it cannot be."""

    fate: Fate
    prediction: Prediction | None
    words: str

    def as_document(self) -> dict[str, object]:
        """Return the fate as a JSON object."""
        prediction = None if self.prediction is None else self.prediction.as_document()
        return {"fate": str(self.fate), "prediction": prediction, "words": self.words}


@dataclass(frozen=True, kw_only=True)
class Foresight:
    """The run before and after what was seen.

    ``before`` is the plan's, ``done`` the same with tubes, fill, spins and red as they really were, ``after`` with the
    readings weighed in. ``effective_draws`` is how many equal draws the weighted ones are worth.
    """

    before: Prediction
    done: Prediction
    after: Prediction
    regime: Regime
    regime_words: str
    helps: tuple[Help, ...]
    fates: tuple[FateForeseen, ...]
    surprises: tuple[Surprise, ...]
    effective_draws: float
    words: tuple[str, ...]
    dose_known: bool = True

    def as_document(self) -> dict[str, object]:
        """Return the foresight as a JSON object; no NaN or infinity is ever in it."""
        return {
            "before": self.before.as_document(),
            "done": self.done.as_document(),
            "after": self.after.as_document(),
            "dose_known": self.dose_known,
            "regime": str(self.regime),
            "regime_words": self.regime_words,
            "observations": [one.as_document() for one in self.helps],
            "red": [one.as_document() for one in self.fates],
            "surprises": [one.as_document() for one in self.surprises],
            "effective_draws": six_digits(self.effective_draws),
            "words": list(self.words),
        }


def without_dose(foresight: Foresight) -> Foresight:
    """Return the foresight with the dose withdrawn everywhere: the product has clumps that will not go."""
    return replace(
        foresight,
        before=foresight.before.without_dose(),
        done=foresight.done.without_dose(),
        after=foresight.after.without_dose(),
        helps=(),
        fates=tuple(
            replace(one, prediction=None if one.prediction is None else one.prediction.without_dose())
            for one in foresight.fates
        ),
        words=(DOSE_UNKNOWN, *foresight.words[1:]),
        dose_known=False,
    )
