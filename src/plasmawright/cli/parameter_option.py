"""The options that say which parameters a prediction stands on."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from plasmawright.errors import OutOfRange

if TYPE_CHECKING:
    from plasmawright.parameters.sets import ParameterSet

DRAWS_MIN, DRAWS_MAX = 2, 16_384

SeedOption = Annotated[
    int, typer.Option("--seed", min=0, max=2**32 - 1, help="Makes the draws; the same seed, the same draws.")
]
ParametersOption = Annotated[
    Path | None, typer.Option("--parameters", metavar="SET.json", help="A parameter set that was learned or fitted.")
]


def parameters_for(file: Path | None, *, draws: int | None, seed: int) -> "ParameterSet":
    """Return the set to predict with: the tables' centres, draws of them, or those of ``file`` over them."""
    from plasmawright.exchange.parameter_set import read_parameter_set
    from plasmawright.parameters import sets

    if draws is not None and not DRAWS_MIN <= draws <= DRAWS_MAX:
        raise OutOfRange("--draws", draws, DRAWS_MIN, DRAWS_MAX, "512 is usual; leave it out for one answer.")
    if file is None:
        return sets.central() if draws is None else sets.drawn(count=draws, seed=seed)
    return sets.from_document(read_parameter_set(file), count=draws or 1, seed=seed)
