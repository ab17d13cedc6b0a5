"""Where the tubes of one spin go in the rotor, and what stands opposite."""

from dataclasses import dataclass

from plasmawright.parameters.table import value
from plasmawright.preparation.loading import load_rotor
from plasmawright.preparation.prediction import six_digits


@dataclass(frozen=True, kw_only=True)
class Blank:
    """A tube of the same kind filled with water to the mass of the others."""

    place: int
    mass_g: float
    water_ml: float


@dataclass(frozen=True, kw_only=True)
class Load:
    """Places from 1, and the blanks that balance them."""

    places: tuple[int, ...]
    blanks: tuple[Blank, ...]

    def as_document(self) -> dict[str, object]:
        """Return the two keys the contract gives a spin."""
        return {
            "load": list(self.places),
            "counterweights": [
                {"place": blank.place, "mass_g": six_digits(blank.mass_g), "water_ml": six_digits(blank.water_ml)}
                for blank in self.blanks
            ],
        }


def load_of(*, places: int, tubes: int, content_g: float) -> Load:
    """Return how ``tubes`` equal tubes of ``content_g`` each are loaded, with equal blanks where they cannot balance.

    A blank's ``mass_g`` is the water in an empty tube of the same kind, so that the tubes' own masses cancel.
    """
    water_kg_m3 = value("water_density_22c")
    loading = load_rotor(places=places, tubes=tubes, masses_g=None, empty_mass_g=None, water_density_kg_m3=water_kg_m3)
    if not loading.blanks_at:
        return Load(places=loading.places, blanks=())
    blanks = tuple(
        Blank(place=place, mass_g=content_g, water_ml=content_g / water_kg_m3 * 1e3) for place in loading.blanks_at
    )
    return Load(places=loading.places_with_blanks, blanks=blanks)
