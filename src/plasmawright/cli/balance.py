"""`plasmawright balance`: where to put tubes in a rotor, and the counterweights to make."""

import json
from typing import TYPE_CHECKING, Annotated

import typer

from plasmawright.cli.serving import JsonOption
from plasmawright.errors import Refusal

if TYPE_CHECKING:
    from plasmawright.preparation.loading import Blank, Loading

PlacesOption = Annotated[int, typer.Option("--places", help="Places around the rotor, filled or not.")]
TubesOption = Annotated[int, typer.Option("--tubes", help="Tubes to spin.")]
MassesOption = Annotated[str | None, typer.Option("--masses", help="Mass of each tube in g, such as 19.8,19.6,20.1.")]
EmptyMassOption = Annotated[
    float | None, typer.Option("--empty-mass-g", help="Mass of an empty tube, when the masses include the tubes.")
]


def command(
    *,
    places: PlacesOption,
    tubes: TubesOption,
    masses: MassesOption = None,
    empty_mass_g: EmptyMassOption = None,
    as_json: JsonOption = False,
) -> None:
    """Say where to put tubes in a rotor, and which counterweights to make."""
    from plasmawright.parameters.table import rows
    from plasmawright.preparation.loading import load_rotor

    loading = load_rotor(
        places=places,
        tubes=tubes,
        masses_g=None if masses is None else _masses_g(masses),
        empty_mass_g=empty_mass_g,
        water_density_kg_m3=rows()["water_density_22c"].value,
    )
    if as_json:
        typer.echo(json.dumps(_as_object(loading)))
        return
    counterweights = [] if masses is None else [_blank_in_words(b, empty_mass_g) for b in loading.counterweights]
    typer.echo("\n".join(_in_words(loading, counterweights)))


def _masses_g(text: str) -> list[float]:
    masses = []
    for number, part in enumerate(text.split(","), start=1):
        try:
            masses.append(float(part))
        except ValueError as fault:
            limit = "it must be a number of grams"
            raise Refusal(f"masses.{number}", f'"{part}"', limit, "Write them as 19.8,19.6,20.1.") from fault
    return masses


def _as_object(loading: "Loading") -> dict[str, object]:
    return {
        "balanced": loading.balanced,
        "residual_g": loading.residual_g,
        "places": list(loading.places),
        "counterweights": [
            {
                "place": blank.place,
                "mass_g": blank.mass_g,
                "water_ml": blank.water_ml,
                "empty_place": blank.in_empty_place,
            }
            for blank in loading.counterweights
        ],
        "with_equal_blanks": {"places": list(loading.places_with_blanks), "blanks": list(loading.blanks_at)},
        "cautions": list(loading.cautions),
    }


def _in_words(loading: "Loading", counterweights: list[str]) -> list[str]:
    lines = [f"Tubes, in the order given: places {_listed(loading.places)}, counted around the rotor from 1."]
    if loading.balanced and not loading.counterweights:
        lines.append("This load balances.")
    elif counterweights:
        verdict = "within" if loading.balanced else "outside"
        lines.append(f"They leave {loading.residual_g:.2f} g, {verdict} the 0.5 g allowed.")
        lines += counterweights
    else:
        lines.append("Equal tubes cannot balance this way alone.")
    if loading.blanks_at:
        lines.append(
            f"Better with blanks: tubes in {_listed(loading.places_with_blanks)}, and in {_listed(loading.blanks_at)} "
            "tubes of the same kind filled with water to the mass of the others."
        )
    return lines + [f"Take care: {caution}" for caution in loading.cautions]


def _blank_in_words(blank: "Blank", empty_mass_g: float | None) -> str:
    amount = f"{blank.mass_g:.2f} g ({blank.water_ml:.2f} mL of water)"
    if not blank.in_empty_place:
        return f"Place {blank.place}: {blank.mass_g:.2f} g beside the tube, in its bucket."
    if empty_mass_g is None:
        return (
            f"Place {blank.place}: a tube of the same kind with water, {blank.mass_g:.2f} g together "
            f"if the masses given include the tubes; if they do not, {amount} in it."
        )
    return f"Place {blank.place}: an empty tube of the same kind with {amount}."


def _listed(places: tuple[int, ...]) -> str:
    return ", ".join(str(place) for place in places)
