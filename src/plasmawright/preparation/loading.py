"""Loading a rotor: where the tubes go and which counterweights to make, in the units of the bench.

The masses are what a scale shows. Where an empty place gets a counterweight, ``mass_g`` is the water to fill into an
empty tube of the same kind: with ``empty_mass_g`` given, that tube's own mass is already taken off; without it the
masses are read as those of the contents, so the tube counts as weightless, and on a scale ``mass_g`` is then the whole
tube with its water whenever the masses given were whole tubes.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from plasmawright.errors import OutOfRange, Refusal
from plasmawright.preparation.ranges import PLACES, TUBE_MASS_G
from plasmawright.science.arrangement import Arrangement, best_arrangement
from plasmawright.science.balance import Counterweight, balances_alone, counterweights, unopposed

BALANCED_WITH_MASSES_G = 0.5
"""The contract's rule for weighed tubes: what a bench scale and a hand with a pipette reach without trouble."""

BALANCED_WITHOUT_MASSES_G = 1e-9
"""Equal tubes balance exactly or not at all; this only forgives rounding."""

CAUTION_PAIRS = (
    "In a swing-out, buckets that face each other must match in kind, in mass and in where the mass lies: "
    "fill tubes to one height and put them in the same holes of both buckets."
)
CAUTION_UNOPPOSED = (
    "This load leaves tubes without a partner opposite. Use it only if the rotor's manual allows such loads; "
    "else make blanks until every tube has a partner."
)
CAUTION_BUCKET = "A counterweight beside a tube goes into its bucket or adapter, never into the blood."
CAUTION_WHOLE = (
    "Without the empty tube's mass, a counterweight in an empty place is the whole of what must stand there if the "
    "masses given include the tubes."
)
CAUTION_SEARCHED = "The arrangement is the best found; there are too many to try them all."


@dataclass(frozen=True, kw_only=True)
class Blank:
    """What to add at ``place`` (from 1): water into an empty tube, or a weight beside the tube that stands there."""

    place: int
    mass_g: float
    water_ml: float
    in_empty_place: bool


@dataclass(frozen=True, kw_only=True)
class Loading:
    """``places`` (from 1) of the tubes given, in their order, and what would bring the load to zero.

    ``blanks_at`` and ``places_with_blanks`` say the same for equal tubes that cannot balance alone, in the way a bench
    does it: fill that many more tubes like the others.
    """

    balanced: bool
    residual_g: float
    places: tuple[int, ...]
    counterweights: tuple[Blank, ...]
    places_with_blanks: tuple[int, ...]
    blanks_at: tuple[int, ...]
    cautions: tuple[str, ...]


def load_rotor(
    *,
    places: int,
    tubes: int,
    masses_g: Sequence[float] | None,
    empty_mass_g: float | None,
    water_density_kg_m3: float,
) -> Loading:
    """Arrange ``tubes`` in a rotor of ``places`` and name the counterweights that bring the vector sum to zero.

    Raises
    ------
    Refusal
        If a number lies outside its range, the masses are not one a tube, or a tube is lighter than an empty one.
    """
    _check(places, tubes, masses_g, empty_mass_g)
    masses_kg = [mass / 1000 for mass in masses_g] if masses_g is not None else [0.001] * tubes
    empty_kg = (empty_mass_g or 0.0) / 1000
    found = best_arrangement(places=places, masses_kg=masses_kg)
    added = counterweights(places=places, occupied=found.occupied, masses_kg=masses_kg, empty_mass_kg=empty_kg)
    blanks = tuple(_blank(weight, water_density_kg_m3) for weight in added)
    residual_g = found.residual_kg * 1000
    limit_g = BALANCED_WITHOUT_MASSES_G if masses_g is None else BALANCED_WITH_MASSES_G
    with_blanks, blanks_at = _with_equal_blanks(places, tubes)
    return Loading(
        balanced=residual_g <= limit_g,
        residual_g=residual_g,
        places=tuple(place + 1 for place in found.occupied),
        counterweights=blanks,
        places_with_blanks=with_blanks,
        blanks_at=blanks_at,
        cautions=_cautions(places, found, blanks, empty_mass_g),
    )


def _blank(weight: Counterweight, water_density_kg_m3: float) -> Blank:
    """Turn a counterweight into the bench's units; its place is counted from 1."""
    return Blank(
        place=weight.place + 1,
        mass_g=weight.mass_kg * 1000,
        water_ml=weight.mass_kg / water_density_kg_m3 * 1e6,
        in_empty_place=weight.in_empty_place,
    )


def _cautions(places: int, found: Arrangement, blanks: Sequence[Blank], empty_mass_g: float | None) -> tuple[str, ...]:
    cautions = [CAUTION_PAIRS]
    if unopposed(places=places, occupied=found.occupied):
        cautions.append(CAUTION_UNOPPOSED)
    if any(not blank.in_empty_place for blank in blanks):
        cautions.append(CAUTION_BUCKET)
    if empty_mass_g is None and any(blank.in_empty_place for blank in blanks):
        cautions.append(CAUTION_WHOLE)
    if not found.proven:
        cautions.append(CAUTION_SEARCHED)
    return tuple(cautions)


def _with_equal_blanks(places: int, tubes: int) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Return the places of tubes and of the fewest like blanks that balance them; two empty tuples if none is needed.

    A full rotor of two places or more always balances, so this ends.
    """
    if places == 1 or balances_alone(places=places, tubes=tubes):
        return (), ()
    in_all = next(count for count in range(tubes + 1, places + 1) if balances_alone(places=places, tubes=count))
    filled = [place + 1 for place in best_arrangement(places=places, masses_kg=[1.0] * in_all).occupied]
    return tuple(filled[:tubes]), tuple(filled[tubes:])


def _check(places: int, tubes: int, masses_g: Sequence[float] | None, empty_mass_g: float | None) -> None:
    PLACES.check("places", places)
    if not 1 <= tubes <= places:
        raise OutOfRange("tubes", tubes, 1, places, "Give at least one tube, and no more than the rotor has places.")
    if empty_mass_g is not None:
        TUBE_MASS_G.check("empty-mass-g", empty_mass_g)
    if masses_g is None:
        return
    if len(masses_g) != tubes:
        raise Refusal("masses", f"{len(masses_g)} masses", f"it must be {tubes}, one a tube", "Weigh every tube once.")
    for number, mass in enumerate(masses_g, start=1):
        TUBE_MASS_G.check(f"masses.{number}", mass)
        if empty_mass_g is not None and mass < empty_mass_g and not math.isclose(mass, empty_mass_g):
            limit = f"it must be at least the empty tube's {empty_mass_g:g} g"
            raise Refusal(f"masses.{number}", mass, limit, "Weigh it with its tube, or leave out the empty mass.")
