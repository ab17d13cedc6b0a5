"""`plasmawright map`: force by time for one spin of a preparation file."""

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from plasmawright.cli.parameter_option import ParametersOption, parameters_for
from plasmawright.cli.serving import JsonOption
from plasmawright.cli.simulate import FileArgument
from plasmawright.errors import OutOfRange, Refusal

if TYPE_CHECKING:
    from plasmawright.preparation.spin_map import SpinMap

StepOption = Annotated[int, typer.Option("--step", help="Which step of the file, counted from 1; it must be a spin.")]
RcfOption = Annotated[tuple[float, float], typer.Option("--rcf", metavar="LO HI", help="Lowest and highest force.")]
MinutesOption = Annotated[
    tuple[float, float], typer.Option("--minutes", metavar="LO HI", help="Shortest and longest time at speed.")
]
PointsOption = Annotated[int, typer.Option("--points", help="Points along each axis.")]
PictureOption = Annotated[
    Path | None, typer.Option("--picture", metavar="OUT.svg", help="Draw the map into this file as well.")
]

POINTS_MIN, POINTS_MAX = 3, 200
RCF_MIN, RCF_MAX = 5.0, 30_000.0
MINUTES_MIN, MINUTES_MAX = 0.1, 120.0


def command(
    *,
    file: FileArgument,
    step: StepOption,
    rcf: RcfOption,
    minutes: MinutesOption,
    points: PointsOption = 40,
    parameters: ParametersOption = None,
    picture: PictureOption = None,
    as_json: JsonOption = False,
) -> None:
    """Map what one spin gives over force and time."""
    _check_axis("--rcf", rcf, RCF_MIN, RCF_MAX)
    _check_axis("--minutes", minutes, MINUTES_MIN, MINUTES_MAX)
    if not POINTS_MIN <= points <= POINTS_MAX:
        raise OutOfRange("--points", points, POINTS_MIN, POINTS_MAX, "40 is usual.")
    from plasmawright.exchange.toml.read import read_preparation
    from plasmawright.preparation.spin_map import even_axes, spin_map

    preparation = read_preparation(file)
    forces, times = even_axes(rcf=rcf, minutes=minutes, points=points)
    found = spin_map(preparation, parameters_for(parameters, draws=None, seed=1), step=step, rcf=forces, minutes=times)
    if picture is not None:
        from plasmawright.documents.spin_map import render_spin_map

        _write(picture, render_spin_map(found))
    typer.echo(json.dumps(found.as_document(), allow_nan=False) if as_json else "\n".join(_in_words(found)))


def _check_axis(field: str, axis: tuple[float, float], low: float, high: float) -> None:
    for end in axis:
        if not low <= end <= high:
            raise OutOfRange(field, end, low, high, "Give the lower end first, then the upper.")
    if axis[0] >= axis[1]:
        raise Refusal(field, f"{axis[0]:g} {axis[1]:g}", "the first must be below the second", "Change them round.")


def _write(picture: Path, drawing: bytes) -> None:
    try:
        picture.write_bytes(drawing)
    except OSError as error:
        raise Refusal(
            "--picture", picture.name, f"it cannot be written ({error.strerror})", "Name a file in a folder of yours."
        ) from error


def _in_words(found: "SpinMap") -> list[str]:
    lines = ["Predicted, not counted: the best time for each force, and the share of the drawn platelets there."]
    best = found.recovery_frac.max(axis=1)
    for force, time, share in zip(found.rcf, found.ridge_minutes, best, strict=True):
        lines.append(f"  {force:7.0f} g  {time:6.1f} min  {share:.3f}")
    return lines
