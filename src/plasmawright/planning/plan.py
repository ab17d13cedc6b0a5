"""A plan, and the answer that holds the chosen one beside its alternatives."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace

import numpy as np
from numpy.typing import NDArray

from plasmawright.planning.load import Load
from plasmawright.planning.visit import Site
from plasmawright.practice.statements import Caution, Class
from plasmawright.preparation.assumptions import Assumed
from plasmawright.preparation.prediction import Layers, six_digits, told

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Look:
    """Short spin, look, finish: when to look, what to expect, and how many minutes each sight asks for.

    ``then`` goes from the highest interface (mm) for which the minutes hold; the last has none.
    """

    expected_interface_mm: Array
    then: tuple[tuple[float | None, float], ...]


@dataclass(frozen=True, kw_only=True)
class Filled:
    """What one site gets, one value a draw."""

    site: Site
    platelets_1e9: Array
    chance_met: float | None


@dataclass(frozen=True, kw_only=True)
class Plan:
    """One way to do the visit, with its predictions, one value a draw.

    ``chance_sized`` is the chance that all is met, or, where nothing was wished, that the count it was sized for is
    reached; ``share_reached`` the mean share of that which is reached, by which plans are compared when no chance is
    worth the name.
    """

    words: str
    tubes: int
    blood_ml: float
    anticoagulant_ml: float
    soft_rcf: float
    soft_rpm: float
    soft_minutes: float
    soft_load: Load
    margin_mm: float
    plasma_ml: Array
    interface_mm: Array
    mark_ml: float | None
    hard_tubes: int
    hard_rcf: float
    hard_rpm: float
    hard_minutes: float
    hard_load: Load
    leave_ml: float
    leave_ml_sum: tuple[tuple[str, float], ...]
    poor_1e9_per_l: Array
    poor_left_frac: Array
    rich_1e9_per_l: Array
    rich_red_1e12_per_l: Array
    rich_white_1e9_per_l: Array
    recovery_frac: Array
    fold: Array
    concentrated_fold: float
    sites: tuple[Filled, ...]
    red_cells: str
    white_cells: str
    chance_all_met: float
    chance_sized: float
    share_reached: float
    minutes_total: float
    binding: str
    weights: Array
    layers: Layers
    look: Look | None = None

    def said(self, *, words: str, binding: str) -> "Plan":
        """Return the plan with what it says of itself."""
        return replace(self, words=words, binding=binding)

    def as_document(self) -> dict[str, object]:
        """Return the plan as the contract prints it."""
        document: dict[str, object] = {
            "words": self.words,
            "tubes": self.tubes,
            "blood_ml": six_digits(self.blood_ml),
            "anticoagulant_ml": six_digits(self.anticoagulant_ml),
            "soft": {
                "rcf": six_digits(self.soft_rcf),
                "rpm": self.soft_rpm,
                "minutes": self.soft_minutes,
                **self.soft_load.as_document(),
            },
            "stop": {
                "above_cells_mm": self.margin_mm,
                "expected_plasma_ml": self._told(self.plasma_ml),
                "expected_interface_mm": self._told(self.interface_mm),
                "mark_ml": self.mark_ml,
            },
            "hard": {
                "tubes": self.hard_tubes,
                "rcf": six_digits(self.hard_rcf),
                "rpm": self.hard_rpm,
                "minutes": self.hard_minutes,
                **self.hard_load.as_document(),
            },
            "leave_ml": six_digits(self.leave_ml),
            "leave_ml_sum": [{"what": what, "ml": six_digits(ml)} for what, ml in self.leave_ml_sum],
            "ppp_platelets_1e9_per_l": self._told(self.poor_1e9_per_l),
            "ppp_left_frac": self._told(self.poor_left_frac),
            "prp_platelets_1e9_per_l": self._told(self.rich_1e9_per_l),
            "prp_red_cells_1e12_per_l": self._told(self.rich_red_1e12_per_l),
            "prp_white_cells_1e9_per_l": self._told(self.rich_white_1e9_per_l),
            "recovery_frac": self._told(self.recovery_frac),
            "fold": self._told(self.fold),
            "red_cells_concentrated_fold": six_digits(self.concentrated_fold),
            "sites": [self._site(filled) for filled in self.sites],
            "red_cells": self.red_cells,
            "white_cells": self.white_cells,
            "chance_all_met": six_digits(self.chance_all_met),
            "chance_sized": six_digits(self.chance_sized),
            "share_reached": six_digits(self.share_reached),
            "minutes_total": six_digits(self.minutes_total),
            "binding": self.binding,
        }
        if self.look is not None:
            document["look"] = {
                "expected_interface_mm": self._told(self.look.expected_interface_mm),
                "then": [
                    {"interface_up_to_mm": None if mm is None else six_digits(mm), "add_minutes": minutes}
                    for mm, minutes in self.look.then
                ],
            }
        return document

    def _site(self, filled: Filled) -> dict[str, object]:
        site = filled.site
        return {
            "id": site.id,
            "name": site.name,
            "side": str(site.side),
            "product": str(site.product),
            "volume_ml": six_digits(site.volume_ml),
            "platelets_1e9": self._told(filled.platelets_1e9),
            "chance_met": None if filled.chance_met is None else six_digits(filled.chance_met),
        }

    def _told(self, values: Array) -> object:
        return told(values, self.weights)


@dataclass(frozen=True, kw_only=True)
class Answer:
    """The chosen plan, its alternatives, and everything a person must see beside them."""

    chosen: Plan
    alternatives: tuple[Plan, ...]
    fold_max: float
    platelets_1e9_max: float
    ceiling_words: str
    cautions: tuple[Caution, ...]
    classes: tuple[Class, ...]
    assumed: tuple[Assumed, ...]
    warnings: tuple[str, ...]
    search: Mapping[str, Array]

    def as_document(self) -> dict[str, object]:
        """Return what ``plan --json`` prints, with what a drawing of the tube and the search's map need."""
        return {
            "chosen": self.chosen.as_document(),
            "alternatives": [plan.as_document() for plan in self.alternatives],
            "ceiling": {
                "fold_max": six_digits(self.fold_max),
                "platelets_1e9_max": six_digits(self.platelets_1e9_max),
                "words": self.ceiling_words,
            },
            "cautions": [caution.as_document() for caution in self.cautions],
            "classes_predicted": [found.as_document() for found in self.classes],
            "assumed": [item.as_document() for item in self.assumed],
            "warnings": list(self.warnings),
            "layers": asdict(self.chosen.layers),
            "search": {
                name: [six_digits(float(x)) for x in table] if table.ndim == 1 else _rounded(table)
                for name, table in self.search.items()
            },
        }


def _rounded(table: Array) -> list[list[float]]:
    return [[six_digits(float(value)) for value in row] for row in table]
