"""The invented visits, each planned and saved as a person would plan and save it."""

from datetime import datetime
from importlib.resources import files

from plasmawright import __version__
from plasmawright.exchange.toml.decode import decode
from plasmawright.parameters.sets import drawn
from plasmawright.planning.choose import choose_plan
from plasmawright.planning.reading import visit_from
from plasmawright.records.models import Clinic, Person
from plasmawright.records.services.plans import save_plan, save_visit

DRAWS = 128
"""Few enough that the demo opens within seconds, enough for its intervals to look as they would."""

SEED = 1


def visit_texts() -> dict[str, str]:
    """Return the text of each invented visit by the name of its file, in the order of the names."""
    folder = files("plasmawright.demo").joinpath("visits")
    names = sorted(entry.name for entry in folder.iterdir() if entry.name.endswith(".toml"))
    return {name: folder.joinpath(name).read_text(encoding="utf-8") for name in names}


def plan_visits(clinic: Clinic, by: Person, at: datetime) -> None:
    """Save every invented visit with its plan; it takes a second or two for each."""
    parameters = drawn(count=DRAWS, seed=SEED)
    for name, text in visit_texts().items():
        document = decode(text.encode(), name)
        answer = choose_plan(visit_from(document), parameters)
        visit = save_visit(clinic=clinic, document=document, text=text, by=by, at=at)
        save_plan(
            visit=visit,
            answer=answer.as_document(),
            settled_margin_mm=None,
            parameter_set=None,
            draws=DRAWS,
            seed=SEED,
            model_version=__version__,
            by=by,
            at=at,
        )
