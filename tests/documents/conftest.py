"""One visit of the examples planned once, for every paper."""

from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime
from functools import cache
from pathlib import Path

import pytest

from plasmawright.documents.made import Made
from plasmawright.documents.rack_card import rack_cards_of
from plasmawright.documents.render import Paper, render_rack_cards, render_worksheet
from plasmawright.documents.worksheet import worksheet_of
from plasmawright.exchange.toml.read import read_document
from plasmawright.parameters.sets import drawn
from plasmawright.planning.choose import choose_plan
from plasmawright.planning.reading import visit_from
from plasmawright.planning.visit import Visit

DRAWS = 32


@dataclass(frozen=True, kw_only=True)
class Planned:
    """A visit, the document of its answer, and the layers of its chosen plan as a saved plan keeps them."""

    visit: Visit
    answer: Mapping[str, object]
    layers: Mapping[str, object]

    @property
    def chosen(self) -> dict[str, object]:
        """Return the chosen plan's document."""
        chosen = self.answer["chosen"]
        assert isinstance(chosen, dict)
        return chosen

    def with_chosen(self, **changed: object) -> "Planned":
        """Return the same with other keys in the chosen plan."""
        return replace(self, answer={**self.answer, "chosen": {**self.chosen, **changed}})


@cache
def planned_example(root: Path) -> Planned:
    """Plan the example visit."""
    visit = visit_from(read_document(root / "docs/examples/visit.toml"))
    answer = choose_plan(visit, drawn(count=DRAWS, seed=1))
    return Planned(visit=visit, answer=answer.as_document(), layers=asdict(answer.chosen.layers))


@pytest.fixture
def planned(root: Path) -> Planned:
    """Return the planned example."""
    return planned_example(root)


@pytest.fixture
def made() -> Made:
    """Return where the test's papers come from."""
    return Made(
        at=datetime(2026, 3, 4, 9, 30, tzinfo=UTC),
        model_version="0.1.0",
        seed=1,
        draws=DRAWS,
        parameters_origin="literature",
        parameters_digest="0123456789abcdef" * 4,
    )


@pytest.fixture
def worksheet(made: Made) -> Callable[[Planned, Paper], bytes]:
    """Return what prints a worksheet."""

    def printed(planned: Planned, paper: Paper = "a4") -> bytes:
        sheet = worksheet_of(planned.visit, planned.answer, layers=planned.layers, made=made)
        return render_worksheet(sheet, paper=paper)

    return printed


@pytest.fixture
def rack_cards(made: Made) -> Callable[[Planned, Paper], bytes]:
    """Return what prints rack cards."""

    def printed(planned: Planned, paper: Paper = "a4") -> bytes:
        return render_rack_cards(rack_cards_of(planned.visit, planned.answer, made=made), paper=paper)

    return printed
