"""What a visit file says, as plain frozen data in the file's own units."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from plasmawright.practice.person import SexForBloodVolume
from plasmawright.preparation.protocol import Rotor, TubeKind


class Tolerance(StrEnum):
    """How much red cell the clinic accepts in a product: its own choice, no limit is published."""

    LOW = "low"
    USUAL = "usual"


class Side(StrEnum):
    """Which side of the body a site is on."""

    LEFT = "left"
    RIGHT = "right"
    NONE = "none"


class Product(StrEnum):
    """What a site is to receive."""

    PRP = "prp"
    PPP = "ppp"


class WhiteCells(StrEnum):
    """What is wished of white cells in the platelet-rich plasma."""

    POOR = "poor"
    RICH = "rich"
    ANY = "any"


@dataclass(frozen=True, kw_only=True)
class Patient:
    """Who is treated; never a name."""

    weight_kg: float
    height_cm: float
    sex_for_blood_volume: SexForBloodVolume
    age_years: float
    reference: str = ""
    red_cell_tolerance: Tolerance = Tolerance.USUAL


@dataclass(frozen=True, kw_only=True)
class Counts:
    """What was counted in the blood, and how long ago; ``None`` was not."""

    hematocrit_frac: float | None = None
    hemoglobin_g_per_dl: float | None = None
    platelets_1e9_per_l: float | None = None
    white_cells_1e9_per_l: float | None = None
    lymphocytes_frac: float | None = None
    monocytes_frac: float | None = None
    mean_platelet_volume_fl: float | None = None
    counted_days_ago: float | None = None


@dataclass(frozen=True, kw_only=True)
class AtHand:
    """What stands on the bench."""

    tube: str
    second_tube: str
    blood_ml: float
    anticoagulant_ml: float
    tubes_at_hand: int
    places: int
    second_tubes_at_hand: int = 4
    max_blood_ml: float | None = None
    temperature_c: float | None = None
    stop_spread_mm: float | None = None

    @property
    def tubes_max(self) -> int:
        """How many tubes may be drawn, within what is at hand, the blood allowed and the rotor's places."""
        by_blood = self.tubes_at_hand if self.max_blood_ml is None else int(self.max_blood_ml / self.blood_ml + 1e-9)
        return min(self.tubes_at_hand, self.places, by_blood)


@dataclass(frozen=True, kw_only=True)
class Site:
    """One place to treat; a wish for platelets may be left out."""

    id: str
    name: str
    product: Product
    volume_ml: float
    side: Side = Side.NONE
    platelets_1e9: float | None = None


@dataclass(frozen=True, kw_only=True)
class Limits:
    """What is wished of the other cells in the platelet-rich plasma."""

    red_cells_1e12_per_l: float | None = None
    white_cells: WhiteCells = WhiteCells.ANY


@dataclass(frozen=True, kw_only=True)
class Visit:
    """What is wanted, and what is at hand."""

    patient: Patient
    blood: Counts
    bench: AtHand
    rotor: Rotor
    tubes: Mapping[str, TubeKind]
    sites: tuple[Site, ...]
    limits: Limits = field(default_factory=Limits)

    def sites_for(self, product: Product) -> tuple[Site, ...]:
        """Return the sites that are to receive ``product``."""
        return tuple(site for site in self.sites if site.product is product)

    def volume_ml(self, product: Product) -> float:
        """Return what the sites for ``product`` take together."""
        return sum(site.volume_ml for site in self.sites_for(product))
