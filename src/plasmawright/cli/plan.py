"""`plasmawright plan`: from one visit's numbers to what the hands do, and the papers for the bench."""

import json
from collections.abc import Mapping
from datetime import UTC, datetime
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from plasmawright import __version__
from plasmawright.cli.paper_file import refuse_unwritable, write_together
from plasmawright.cli.parameter_option import ParametersOption, SeedOption, parameters_for
from plasmawright.cli.serving import JsonOption
from plasmawright.errors import Refusal

if TYPE_CHECKING:
    from plasmawright.documents.made import Made
    from plasmawright.parameters.sets import ParameterSet
    from plasmawright.planning.plan import Answer
    from plasmawright.planning.visit import Visit


class PaperSize(StrEnum):
    """What is in the printer."""

    A4 = "a4"
    LETTER = "letter"


VisitArgument = Annotated[Path, typer.Argument(metavar="VISIT", help="A visit file (TOML).")]
DrawsOption = Annotated[int, typer.Option("--draws", help="How many draws the intervals stand on; 512 is usual.")]
WorksheetOption = Annotated[
    Path | None, typer.Option("--worksheet", metavar="OUT.pdf", help="Write the worksheet into this file as well.")
]
RackCardOption = Annotated[
    Path | None, typer.Option("--rack-card", metavar="OUT.pdf", help="Write the rack cards into this file as well.")
]
PaperOption = Annotated[PaperSize, typer.Option("--paper", help="What is in the printer.")]


def command(
    *,
    visit: VisitArgument,
    draws: DrawsOption = 512,
    seed: SeedOption = 1,
    parameters: ParametersOption = None,
    worksheet: WorksheetOption = None,
    rack_card: RackCardOption = None,
    paper: PaperOption = PaperSize.A4,
    as_json: JsonOption = False,
) -> None:
    """Choose draw, spins, stop, volumes and doses for a visit."""
    for option, file in (("--worksheet", worksheet), ("--rack-card", rack_card)):
        refuse_unwritable(option, file)
    if worksheet is not None and worksheet == rack_card:
        raise Refusal("--rack-card", rack_card.name, "the worksheet goes there already", "Name another file.")
    from plasmawright.exchange.toml.read import read_document
    from plasmawright.planning.choose import choose_plan
    from plasmawright.planning.reading import visit_from

    read = visit_from(read_document(visit))
    believed = parameters_for(parameters, draws=draws, seed=seed)
    answer = choose_plan(read, believed)
    document = answer.as_document()
    said = json.dumps(document, allow_nan=False) if as_json else "\n".join(_in_words(read, document, draws, seed))
    papers = _papers(read, answer, _made(believed, draws, seed), paper, worksheet=worksheet, rack_card=rack_card)
    write_together(papers)
    typer.echo(said)


def _made(believed: "ParameterSet", draws: int, seed: int) -> "Made":
    from plasmawright.documents.made import Made

    return Made(
        at=datetime.now(UTC),
        model_version=__version__,
        seed=seed,
        draws=draws,
        parameters_origin=believed.origin,
        parameters_digest=str(believed.as_document()["digest"]),
    )


def _papers(
    visit: "Visit", answer: "Answer", made: "Made", paper: PaperSize, *, worksheet: Path | None, rack_card: Path | None
) -> dict[Path, bytes]:
    """Return the bytes of every paper that was asked for."""
    papers: dict[Path, bytes] = {}
    if worksheet is None and rack_card is None:
        return papers
    from plasmawright.documents.rack_card import rack_cards_of
    from plasmawright.documents.render import render_rack_cards, render_worksheet
    from plasmawright.documents.worksheet import worksheet_of

    document = answer.as_document()
    if worksheet is not None:
        sheet = worksheet_of(visit, document, layers=answer.chosen.layers, made=made)
        papers[worksheet] = render_worksheet(sheet, paper=paper.value)
    if rack_card is not None:
        papers[rack_card] = render_rack_cards(rack_cards_of(visit, document, made=made), paper=paper.value)
    return papers


def _in_words(visit: "Visit", document: Mapping[str, object], draws: int, seed: int) -> list[str]:
    from plasmawright.documents.plan_in_words import plan_in_words

    return [
        *plan_in_words(visit, document),
        "",
        f"plasmawright {__version__}, seed {seed}, {draws} draws. Intervals hold nine times in ten.",
    ]
