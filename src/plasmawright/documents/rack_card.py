"""The rack card as plain data: a strip at true size to stand behind the tube, one for each fill level."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from plasmawright.documents.made import Made
from plasmawright.documents.tube_drawing import TubeDrawing, tube_drawing
from plasmawright.documents.wording import Interval, half_up_mm, heights
from plasmawright.errors import Refusal
from plasmawright.parameters.sets import central
from plasmawright.planning.revise import Settled, revised_plan
from plasmawright.planning.visit import Visit

SHORT_OF_BLOOD_FRAC = (0.05, 0.10)
"""How much less blood than planned the cards after the full one stand for."""
CHECK_BAR_MM = 50.0
SHOWN_MM_MAX = 190.0
"""The tallest strip that either paper holds at true size."""
ABOVE_COLUMN_MM = 8.0


@dataclass(frozen=True, kw_only=True)
class RackCard:
    """One strip; heights in millimetres from the inside of the bottom, rounded to a half away from the cells."""

    title: str
    fill: str
    filled_mm: float
    interface_mm: float
    interface_low_mm: float
    interface_high_mm: float
    stop_mm: float
    interface_words: str


@dataclass(frozen=True, kw_only=True)
class RackCards:
    """All strips of one plan, and the ruler that slides to the red that is seen."""

    reference: str
    spin: str
    tube_name: str
    tube: TubeDrawing
    shown_mm: float
    margin_mm: float
    check_bar_mm: float
    cards: tuple[RackCard, ...]
    without_card: tuple[str, ...]
    made_words: str
    made: Made


def rack_cards_of(visit: Visit, answer: Mapping[str, object], *, made: Made) -> RackCards:
    """Return the cards of the chosen plan of ``answer``, a document as ``plan --json`` prints it.

    Tubes that got less blood than planned are answered at the centre of what is believed; the interval of the full
    one moves with them.

    Raises
    ------
    Refusal
        If the tube's column is taller than a paper shows at true size.
    """
    chosen = answer["chosen"]
    plan = chosen if isinstance(chosen, Mapping) else {}
    stop, soft = plan["stop"], plan["soft"]
    margin_mm = half_up_mm(float(stop["above_cells_mm"]))
    believed = Interval.of(stop["expected_interface_mm"])
    settled = Settled.from_document(plan)
    full = _after_soft_spin(visit, settled, margin_mm, 0.0)
    points = {0.0: full}
    empty: list[str] = []
    for short_frac in SHORT_OF_BLOOD_FRAC:
        try:
            points[short_frac] = _after_soft_spin(visit, settled, margin_mm, short_frac)
        except Refusal:  # nothing would stand above the stop: a tube that gives nothing needs no card, only a word
            empty.append(f"{short_frac:.0%} short of blood: nothing stands above the stop, so there is no card.")
    tube = tube_drawing(visit.tubes[visit.bench.tube])
    cards = tuple(
        _card(
            visit,
            short_frac,
            filled_mm=filled_mm,
            interface=believed.moved(interface_mm - full[1]),
            margin_mm=margin_mm,
        )
        for short_frac, (filled_mm, interface_mm) in points.items()
    )
    highest_mm = max(max(card.filled_mm, card.stop_mm, card.interface_high_mm) for card in cards)
    if highest_mm > SHOWN_MM_MAX:
        raise Refusal(
            f"tubes.{visit.bench.tube}",
            f"{highest_mm:.0f} mm high when filled",
            f"a card at true size shows at most {SHOWN_MM_MAX:g} mm",
            "Use the worksheet's drawing and a ruler.",
        )
    return RackCards(
        reference=visit.patient.reference or "no reference given",
        spin=f"{float(soft['rpm']):.0f} rpm · {float(soft['minutes']):g} min",
        tube_name=visit.bench.tube,
        tube=tube,
        shown_mm=min(tube.brim_mm, highest_mm + ABOVE_COLUMN_MM),
        margin_mm=margin_mm,
        check_bar_mm=CHECK_BAR_MM,
        cards=cards,
        without_card=tuple(empty),
        made_words=made.words,
        made=made,
    )


def _after_soft_spin(visit: Visit, settled: Settled, margin_mm: float, short_frac: float) -> tuple[float, float]:
    """Return the height of the column and of the interface, in mm, where ``short_frac`` of the blood is missing."""
    bench = replace(visit.bench, blood_ml=visit.bench.blood_ml * (1 - short_frac))
    plan = revised_plan(replace(visit, bench=bench), settled, central(), margin_mm=margin_mm)
    return plan.layers.filled_mm, plan.layers.interface_mm


def _card(visit: Visit, short_frac: float, *, filled_mm: float, interface: Interval, margin_mm: float) -> RackCard:
    blood_ml = visit.bench.blood_ml * (1 - short_frac)
    middle_mm = half_up_mm(interface.p50)
    return RackCard(
        title=f"{short_frac:.0%} short of blood" if short_frac else "Full",
        fill=f"{blood_ml:.1f} mL of blood in {blood_ml + visit.bench.anticoagulant_ml:.1f} mL",
        filled_mm=filled_mm,
        interface_mm=middle_mm,
        interface_low_mm=half_up_mm(interface.p05),
        interface_high_mm=half_up_mm(interface.p95),
        stop_mm=middle_mm + margin_mm,
        interface_words=heights(interface),
    )
