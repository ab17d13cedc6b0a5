"""`plasmawright check-model`: the model held against published experiments, misses included."""

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from plasmawright.cli.parameter_option import DRAWS_MAX, SeedOption
from plasmawright.cli.serving import JsonOption
from plasmawright.errors import OutOfRange, Refusal

if TYPE_CHECKING:
    from plasmawright.quality.check_model import Verdict
    from plasmawright.quality.published import Case
    from plasmawright.quality.trends import Trends

# Below this, a 5 % quantile stands on a handful of draws.
DRAWS_MIN = 64

AgainstOption = Annotated[
    Path | None, typer.Option("--against", metavar="DIR", help="A folder of published cases in the product's own form.")
]
DrawsOption = Annotated[int, typer.Option("--draws", help="How many draws the intervals stand on.")]
PageOption = Annotated[
    Path | None, typer.Option("--page", metavar="OUT.md", help="Write the verdict as a page of the reference as well.")
]


def command(
    *,
    against: AgainstOption = None,
    draws: DrawsOption = 512,
    seed: SeedOption = 1,
    page: PageOption = None,
    as_json: JsonOption = False,
) -> None:
    """Hold the model against published experiments, beside a constant and beside rigid spheres."""
    if not DRAWS_MIN <= draws <= DRAWS_MAX:
        raise OutOfRange("--draws", draws, DRAWS_MIN, DRAWS_MAX, "512 is usual.")
    from plasmawright.documents.validation import render_validation, verdict_in_words
    from plasmawright.quality.check_model import judge_model

    cases, trends = _packaged() if against is None else _of_folder(against)
    verdict = judge_model(cases, trends, draws=draws, seed=seed)
    if page is not None:
        _write(page, render_validation(verdict))
    typer.echo(_as_json(verdict) if as_json else verdict_in_words(verdict))


def _as_json(verdict: "Verdict") -> str:
    return json.dumps(verdict.as_document(), allow_nan=False)


def _packaged() -> "tuple[tuple[Case, ...], Trends]":
    from plasmawright.parameters.papers import TRENDS, documents, trends_document
    from plasmawright.quality.published import cases_from
    from plasmawright.quality.trend_files import trends_from

    return cases_from(documents()), trends_from(trends_document(), TRENDS)


def _of_folder(folder: Path) -> "tuple[tuple[Case, ...], Trends]":
    from plasmawright.exchange.toml.read import read_document
    from plasmawright.parameters.papers import TRENDS
    from plasmawright.quality.published import cases_from
    from plasmawright.quality.trend_files import trends_from
    from plasmawright.quality.trends import Trends

    if not folder.is_dir():
        raise Refusal("--against", folder.name, "it must be a folder", "Name the folder that holds the files.")
    documents = {file.name: read_document(file) for file in sorted(folder.glob("*.toml"))}
    directions = documents.pop(TRENDS, None)
    if not documents:
        raise Refusal("--against", folder.name, "it must hold at least one .toml file of cases", "Name another folder.")
    trends = Trends(trends=(), not_judged=()) if directions is None else trends_from(directions, TRENDS)
    return cases_from(documents), trends


def _write(page: Path, text: str) -> None:
    try:
        page.write_text(text, encoding="utf-8")
    except OSError as error:
        raise Refusal(
            "--page", page.name, f"it cannot be written ({error.strerror})", "Name a file in a folder of yours."
        ) from error
