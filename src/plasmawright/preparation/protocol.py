"""What a preparation file says, as plain frozen data in the file's own units.

A field that is ``None`` was left out: the prediction then draws it from a stated distribution and lists it under
``assumed``. Nothing here is checked against a range; :mod:`plasmawright.preparation.reading` does that, once, on
the way in.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from plasmawright.science.tube import Bottom


class Place(StrEnum):
    """Where along the column a relative centrifugal force is quoted."""

    BOTTOM = "bottom"
    MIDDLE = "middle"
    TOP = "top"


class Stop(StrEnum):
    """How the hand knows where to stop withdrawing."""

    ABOVE_CELLS_MM = "above_cells_mm"
    VOLUME_ML = "volume_ml"
    WITH_BUFFY_COAT = "with_buffy_coat"


@dataclass(frozen=True, kw_only=True)
class Blood:
    """One person's blood as drawn, before anticoagulant."""

    hematocrit_frac: float
    platelets_1e9_per_l: float
    white_cells_1e9_per_l: float | None = None
    lymphocytes_frac: float | None = None
    monocytes_frac: float | None = None
    mean_platelet_volume_fl: float | None = None
    temperature_c: float | None = None


@dataclass(frozen=True, kw_only=True)
class TubeKind:
    """A kind of tube, and where its adapter puts its bottom when it differs from the rotor's own radius."""

    inner_diameter_mm: float
    bottom: Bottom
    capacity_ml: float
    cone_height_mm: float | None = None
    tip_diameter_mm: float | None = None
    bottom_radius_mm: float | None = None
    max_rcf: float | None = None
    empty_mass_g: float | None = None
    graduated: bool = False


@dataclass(frozen=True, kw_only=True)
class Collection:
    """How many tubes are drawn, and what goes into each."""

    tubes: int
    blood_ml: float
    anticoagulant_ml: float
    tube: str


@dataclass(frozen=True, kw_only=True)
class Rotor:
    """A centrifuge rotor; 90 degrees is a swing-out."""

    bottom_radius_mm: float
    max_rcf: float
    angle_deg: float = 90.0


@dataclass(frozen=True, kw_only=True)
class Spin:
    """A spin of the tubes in hand. Exactly one of ``rcf`` and ``rpm`` is given."""

    minutes: float
    rcf: float | None = None
    rpm: float | None = None
    rcf_at: Place = Place.BOTTOM
    up_s: float | None = None
    down_s: float | None = None


@dataclass(frozen=True, kw_only=True)
class Withdraw:
    """Plasma taken from the top of every tube in hand and split evenly over the next tubes."""

    stop: Stop
    value: float
    pool_into: str
    pool_tubes: int | None = None


@dataclass(frozen=True, kw_only=True)
class RemoveSupernatant:
    """The platelet-poor plasma taken off; what stays is counted over all tubes in hand."""

    leave_ml: float


@dataclass(frozen=True, kw_only=True)
class Resuspend:
    """The pellet brought back into what was left; ``handling_frac`` is the share that comes back."""

    handling_frac: float | None = None


Step = Spin | Withdraw | RemoveSupernatant | Resuspend


@dataclass(frozen=True, kw_only=True)
class Preparation:
    """One blood through one protocol."""

    blood: Blood
    collection: Collection
    rotor: Rotor
    steps: tuple[Step, ...]
    tubes: Mapping[str, TubeKind] = field(default_factory=dict)
