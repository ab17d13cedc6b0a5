"""The worksheet as plain data: what the hands do, in order, and what is to be expected, in words."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from plasmawright.documents.made import Made
from plasmawright.documents.tube_drawing import SpunTube, spun_tube
from plasmawright.documents.wording import Interval, count, counts, height, many
from plasmawright.documents.worksheet_steps import SheetStep, steps_of
from plasmawright.planning.visit import Visit
from plasmawright.preparation.prediction import Layers

BILLION_NAME = "billion"
LOCAL_RULES = (
    "This clinic's own rules and the law where you work come before this sheet. It is a plan for a trained person, "
    "not a release."
)


@dataclass(frozen=True, kw_only=True)
class Share:
    """What one site gets; ``predicted`` and ``chance`` are empty where nothing is to be said."""

    id: str
    name: str
    side: str
    product: str
    volume: str
    predicted: str
    wish: str


@dataclass(frozen=True, kw_only=True)
class Care:
    """A caution or warning, and its source where it has one."""

    text: str
    source: str


@dataclass(frozen=True, kw_only=True)
class Origin:
    """One source of numbers, what kind of source it is, and for how many it stands."""

    kind: str
    citation: str
    numbers: str


@dataclass(frozen=True, kw_only=True)
class WorksheetSheet:
    """Everything the worksheet prints."""

    reference: str
    words: str
    steps: tuple[SheetStep, ...]
    tube: SpunTube
    stop_words: str
    interface_words: str
    shares: tuple[Share, ...]
    product: tuple[str, ...]
    binding: str
    care: tuple[Care, ...]
    origins: tuple[Origin, ...]
    local_rules: str
    made_words: str
    made: Made


def worksheet_of(
    visit: Visit, answer: Mapping[str, object], *, layers: Layers | Mapping[str, object], made: Made
) -> WorksheetSheet:
    """Return the sheet of the chosen plan of ``answer``, a document as ``plan --json`` prints it.

    Parameters
    ----------
    layers
        Of the chosen plan.
    """
    plan = mapping(answer["chosen"])
    stop = mapping(plan["stop"])
    interface = Interval.of(stop["expected_interface_mm"])
    margin_mm = float(str(stop["above_cells_mm"]))
    return WorksheetSheet(
        reference=visit.patient.reference or "no reference given",
        words=str(plan["words"]),
        steps=steps_of(visit, plan),
        tube=spun_tube(
            visit.tubes[visit.bench.tube], layers, margin_mm=margin_mm, low_mm=interface.p05, high_mm=interface.p95
        ),
        stop_words=f"stop {margin_mm:g} mm above the red you see",
        interface_words=f"red expected at {height(interface.p50)} mm",
        shares=shares_of(visit, plan),
        product=_product(plan),
        binding=str(plan["binding"]),
        care=_care(answer),
        origins=_origins(answer),
        local_rules=LOCAL_RULES,
        made_words=made.words,
        made=made,
    )


def mapping(value: object) -> Mapping[str, object]:
    """Return a table of a plan's document."""
    return value if isinstance(value, Mapping) else {}


def sequence(value: object) -> Sequence[object]:
    """Return a list of a plan's document."""
    return value if isinstance(value, list | tuple) else ()


def shares_of(visit: Visit, plan: Mapping[str, object]) -> tuple[Share, ...]:
    """Return what each site of a plan's document gets."""
    return tuple(_share(mapping(site), visit) for site in sequence(plan["sites"]))


def _share(site: Mapping[str, object], visit: Visit) -> Share:
    wished = {one.id: one.platelets_1e9 for one in visit.sites}.get(str(site["id"]))
    chance = site["chance_met"]
    wish = ""
    if wished is not None:
        wish = f"wished {count(wished)} billion"
        wish += "" if chance is None else f", chance {float(str(chance)):.0%}"
    return Share(
        id=str(site["id"]),
        name=str(site["name"]),
        side="" if site["side"] == "none" else str(site["side"]),
        product=str(site["product"]).upper(),
        volume=f"{float(str(site['volume_ml'])):.1f} mL",
        predicted=f"predicted {counts(Interval.of(site['platelets_1e9']), BILLION_NAME)}",
        wish=wish,
    )


def _product(plan: Mapping[str, object]) -> tuple[str, ...]:
    """Return what is predicted of the product as a whole."""
    said = []
    if "prp_platelets_1e9_per_l" in plan:
        rich = Interval.of(plan["prp_platelets_1e9_per_l"])
        said.append(f"PRP: predicted {counts(rich, '×10⁹ platelets/L')}")
    if "ppp_platelets_1e9_per_l" in plan:
        poor = Interval.of(plan["ppp_platelets_1e9_per_l"])
        said.append(f"PPP: predicted {counts(poor, '×10⁹ platelets/L')}")
    said.append(f"red cells as wished: {plan['red_cells']} · white cells as wished: {plan['white_cells']}")
    return tuple(said)


def _care(answer: Mapping[str, object]) -> tuple[Care, ...]:
    cautions = [mapping(one) for one in sequence(answer["cautions"])]
    found = [Care(text=str(one["text"]), source=str(one["source"])) for one in cautions]
    return tuple(found + [Care(text=str(text), source="") for text in sequence(answer["warnings"])])


def _origins(answer: Mapping[str, object]) -> tuple[Origin, ...]:
    """Return each source once, with how many numbers it stands for; what is assumed comes first."""
    told: dict[tuple[str, str], int] = {}
    for one in sequence(answer["assumed"]):
        kind, _, citation = str(mapping(one)["source"]).partition(": ")
        key = kind, citation.partition("; ")[0]
        told[key] = told.get(key, 0) + 1
    return tuple(
        Origin(kind=kind, citation=citation, numbers=many(number, "number"))
        for (kind, citation), number in sorted(told.items())
    )
