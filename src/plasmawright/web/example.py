"""An invented visit to try the page with: no patient of anybody's."""

from plasmawright.web.asked import settled_text
from plasmawright.web.visit_form import values_of

EXAMPLE = {
    "patient": {
        "reference": "EXAMPLE",
        "weight_kg": 68,
        "height_cm": 171,
        "sex_for_blood_volume": "female",
        "age_years": 61,
        "red_cell_tolerance": "usual",
    },
    "blood": {"hematocrit_frac": 0.41, "platelets_1e9_per_l": 232, "counted_days_ago": 3},
    "bench": {
        "tube": "collection",
        "second_tube": "conical",
        "blood_ml": 8.5,
        "anticoagulant_ml": 1.5,
        "tubes_at_hand": 8,
        "second_tubes_at_hand": 4,
        "max_blood_ml": 68,
        "places": 8,
        "stop_spread_mm": 1.0,
    },
    "rotor": {"bottom_radius_mm": 160, "angle_deg": 90, "max_rcf": 3000},
    "tubes": {
        "collection": {"inner_diameter_mm": 13.0, "bottom": "round", "capacity_ml": 11.0, "max_rcf": 3000},
        "conical": {
            "inner_diameter_mm": 14.6,
            "bottom": "conical",
            "cone_height_mm": 22.0,
            "tip_diameter_mm": 2.0,
            "capacity_ml": 15.0,
            "graduated": True,
        },
    },
    "sites": [
        {"name": "heel, tendon attachment", "side": "left", "product": "prp", "volume_ml": 3.0, "platelets_1e9": 2.5},
        {"name": "calf, two points", "side": "left", "product": "ppp", "volume_ml": 4.0},
    ],
    "limits": {"red_cells_1e12_per_l": 0.1, "white_cells": "poor"},
}


def example_values() -> dict[str, str]:
    """Return the form that holds the example."""
    return values_of(EXAMPLE)


def example_settled() -> str:
    """Return spins that can be done with the example: what the server warms itself with."""
    return settled_text(
        {
            "tubes": 3,
            "soft": {"rpm": 1280.0, "minutes": 6.0},
            "hard": {"tubes": 2, "rpm": 3340.0, "minutes": 8.0},
        }
    )
