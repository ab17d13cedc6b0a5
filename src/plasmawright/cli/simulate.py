"""`plasmawright simulate`: one preparation file, and what it gives."""

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from plasmawright.cli.parameter_option import ParametersOption, SeedOption, parameters_for
from plasmawright.cli.serving import JsonOption

if TYPE_CHECKING:
    from plasmawright.preparation.prediction import Outcome

FileArgument = Annotated[Path, typer.Argument(metavar="FILE", help="A preparation file (TOML).")]
DrawsOption = Annotated[
    int | None, typer.Option("--draws", help="Draw this many times and print intervals; 512 is usual.")
]

UNITS = {
    "plasma_ml": ("plasma withdrawn", "mL"),
    "plasma_above_cells_ml": ("plasma above the cells", "mL"),
    "recovery_frac": ("share of the drawn platelets", ""),
    "recovery_per_mm_frac": ("change of that share for each mm the stop is higher", "/mm"),
    "interface_mm": ("red-cell interface above the tube's bottom", "mm"),
    "filled_ml": ("in the tubes", "mL"),
    "bed_hematocrit_frac": ("haematocrit of what lies below it", ""),
    "mid_bed_hematocrit_frac": ("haematocrit half-way down in that", ""),
    "mean_platelet_volume_ratio": ("size of the platelets in the plasma over those in the blood", ""),
    "volume_ml": ("volume", "mL"),
    "platelets_1e9": ("platelets", "1e9"),
    "platelets_1e9_per_l": ("platelets", "1e9/L"),
    "fold": ("times the undiluted blood's count", ""),
    "red_cells_1e12_per_l": ("red cells (order of magnitude)", "1e12/L"),
    "white_cells_1e9_per_l": ("white cells (order of magnitude)", "1e9/L"),
}
NAMES = {
    "prp": "Platelet-rich plasma",
    "ppp": "Platelet-poor plasma",
    "left_with_cells": "Left with the cells",
    "lost_in_handling": "Lost in handling",
}


def command(
    *,
    file: FileArgument,
    draws: DrawsOption = None,
    seed: SeedOption = 1,
    parameters: ParametersOption = None,
    as_json: JsonOption = False,
) -> None:
    """Run a preparation file through the model of the tube."""
    from plasmawright.exchange.toml.read import read_preparation
    from plasmawright.preparation.prediction import predict

    outcome = predict(read_preparation(file), parameters_for(parameters, draws=draws, seed=seed))
    if as_json:
        typer.echo(json.dumps(outcome.as_document(), allow_nan=False))
        return
    typer.echo("\n".join(_in_words(outcome)))


def _in_words(outcome: "Outcome") -> list[str]:
    document = outcome.as_document()
    lines = ["Predicted, not counted."]
    lines += ["", "After the first spin", *_quantities(document["after_first_spin"])]
    products = document["products"]
    if isinstance(products, dict):
        for name, product in products.items():
            if product is not None:
                lines += ["", NAMES[name], *_quantities(product)]
    lines += ["", *(f"Take care: {warning}" for warning in outcome.warnings)]
    lines.append(f"{len(outcome.assumed)} numbers were assumed, fitted or read in print: --json lists each one.")
    return lines


def _quantities(product: object) -> list[str]:
    if not isinstance(product, dict):
        return []
    lines = []
    for name, value in product.items():
        words, unit = UNITS[name]
        if isinstance(value, dict):
            between = f" ({value['p05']:.3g} to {value['p95']:.3g}, nine times in ten)"
            middle = value["p50"]
        else:
            between, middle = "", value
        lines.append(f"  {words}: {f'{middle:.3g} {unit}'.rstrip()}{between}")
    return lines
