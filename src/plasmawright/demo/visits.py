"""The invented visits, each planned and saved as a person would plan and save it."""

from collections.abc import Mapping
from datetime import datetime
from importlib.resources import files

from plasmawright import __version__
from plasmawright.exchange.toml.decode import decode
from plasmawright.parameters.sets import drawn
from plasmawright.planning.choose import choose_plan
from plasmawright.planning.reading import visit_from
from plasmawright.records.models import Clinic, Person, Plan
from plasmawright.records.services.plans import save_plan, save_visit

DRAWS = 128
"""Few enough that the demo opens within seconds, enough for its intervals to look as they would."""

SEED = 1


def visit_texts() -> dict[str, str]:
    """Return the text of each invented visit by the name of its file, in the order of the names."""
    folder = files("plasmawright.demo").joinpath("visits")
    names = sorted(entry.name for entry in folder.iterdir() if entry.name.endswith(".toml"))
    return {name: folder.joinpath(name).read_text(encoding="utf-8") for name in names}


def plan_visits(clinic: Clinic, by: Person, at: datetime, *, references: Mapping[str, str]) -> dict[str, Plan]:
    """Save every invented visit with its plan, and return the plans by the name of the visit's file.

    It takes a second or two for each. ``references`` says for whom a visit is, in place of its own reference.
    """
    parameters = drawn(count=DRAWS, seed=SEED)
    plans = {}
    for name, text in visit_texts().items():
        told = decode(text.encode(), name)
        own = str(told["patient"]["reference"])  # type: ignore[index] # a visit has a patient
        text_for = text.replace(f'"{own}"', f'"{references.get(name, own)}"')
        document = decode(text_for.encode(), name)
        answer = choose_plan(visit_from(document), parameters)
        visit = save_visit(clinic=clinic, document=document, text=text_for, by=by, at=at)
        plans[name] = save_plan(
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
    return plans
