"""The tube that a step is about, to scale, with what was measured in place of what was expected."""

from dataclasses import replace
from typing import Any

from plasmawright.bench.entries import Measure
from plasmawright.bench.facts import RunFacts
from plasmawright.bench.steps import Step
from plasmawright.planning.reading import visit_from
from plasmawright.planning.visit import Visit
from plasmawright.preparation.prediction import Layers
from plasmawright.records.models import Run
from plasmawright.science.tube import height_m
from plasmawright.web.bench_volumes import expected_pooled_ml, measured_mean
from plasmawright.web.kept_layers import layers_of
from plasmawright.web.picture import LABEL_GAP_MM, Label, Picture, half_mm, moved_apart, picture_of, tube_of

FIRST_TUBE = frozenset({Step.SOFT_SPIN, Step.LOOK, Step.WITHDRAW})


def picture_for(run: Run, facts: RunFacts) -> Picture | None:
    """Return the drawing that helps at this step, or nothing."""
    if facts.step in FIRST_TUBE:
        visit = visit_from(run.plan.visit.document)
        return picture_of(visit.tubes[visit.bench.tube], _first_layers(visit, run.plan.answer, facts))
    if facts.step is Step.TAKE_OFF:
        return _second_picture(visit_from(run.plan.visit.document), facts)
    return None


def _first_layers(visit: Visit, answer: dict[str, Any], facts: RunFacts) -> Layers:
    """Return the layers of the plan, the red where it was measured if it was."""
    layers = layers_of(visit, answer)
    seen_mm = measured_mean(facts, Measure.INTERFACE_MM)
    if seen_mm is None and (plasma_mm := measured_mean(facts, Measure.PLASMA_MM)) is not None:
        seen_mm = layers.filled_mm - plasma_mm
    if seen_mm is None:
        return layers
    stop_mm = seen_mm + answer["chosen"]["stop"]["above_cells_mm"]
    return replace(layers, interface_mm=seen_mm, stop_mm=stop_mm, stop_low_mm=stop_mm, stop_high_mm=stop_mm)


def _second_picture(visit: Visit, facts: RunFacts) -> Picture:
    """Return a second tube after the hard spin: plasma over the pellet, and down to where it is taken off."""
    kind, tubes = visit.tubes[visit.bench.second_tube], int(facts.opening.plan["hard"]["tubes"])
    inside = tube_of(kind)

    def height_mm(volume_ml: float) -> float:
        return 1e3 * float(height_m(inside, min(volume_ml / tubes, kind.capacity_ml) * 1e-6))

    top_mm, stop_mm = height_mm(expected_pooled_ml(facts)), height_mm(facts.opening.plan["leave_ml"])
    layers = Layers(
        filled_mm=top_mm,
        interface_mm=0.0,
        stop_mm=stop_mm,
        stop_low_mm=stop_mm,
        stop_high_mm=stop_mm,
        red_frac=(),
        white_frac=(),
        platelet_frac=(),
    )
    picture = picture_of(kind, layers)
    named = (
        ("top", "surface", top_mm, ""),
        ("stop", "take off down to", stop_mm, f"{half_mm(stop_mm)} mm"),
        ("buffy", "pellet", 1.0, ""),
    )
    wanted = [picture.tall_mm - height for _, _, height, _ in named]
    placed = moved_apart(wanted, gap=LABEL_GAP_MM, lowest=picture.tall_mm)
    labels = tuple(
        Label(kind=name, words=words, number=number, at_mm=at_mm, text_mm=text_mm)
        for (name, words, _, number), at_mm, text_mm in zip(named, wanted, placed, strict=True)
    )
    return replace(picture, labels=labels)
