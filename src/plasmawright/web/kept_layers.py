"""The layers of a drawing, as an answer keeps them."""

from collections.abc import Mapping
from typing import Any

from plasmawright.planning.visit import Visit
from plasmawright.preparation.prediction import Layers
from plasmawright.science.tube import height_m
from plasmawright.web.picture import tube_of


def layers_of(visit: Visit, answer: Mapping[str, Any]) -> Layers:
    """Return the layers of the chosen plan.

    An answer as ``plan --json`` prints it has no ``layers``: they are then drawn from its interface and stop alone, the
    soft edge as wide as the interface is unsure.
    """
    if kept := answer.get("layers"):
        return Layers(**kept)
    stop, bench = answer["chosen"]["stop"], visit.bench
    margin_mm, seen = stop["above_cells_mm"], stop["expected_interface_mm"]
    low, middle, high = (seen[key] for key in ("p05", "p50", "p95")) if isinstance(seen, dict) else (seen,) * 3
    filled_m3 = (bench.blood_ml + bench.anticoagulant_ml) * 1e-6
    return Layers(
        filled_mm=1e3 * float(height_m(tube_of(visit.tubes[bench.tube]), filled_m3)),
        interface_mm=middle,
        stop_mm=middle + margin_mm,
        stop_low_mm=low + margin_mm,
        stop_high_mm=high + margin_mm,
        red_frac=(),
        white_frac=(),
        platelet_frac=(),
    )
