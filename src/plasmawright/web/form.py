"""The form of one preparation: the fields it shows, what was entered, and the document that makes."""

from collections.abc import Iterable, Mapping

from plasmawright.errors import Refusal
from plasmawright.web.entry import (
    Choice,
    Entries,
    Field,
    Group,
    sentences_of,
    shown_group,
    table_at,
    value_in,
)

BOTTOMS = tuple(Choice(value=shape, label=shape) for shape in ("flat", "round", "conical"))
STOPS = (
    Choice(value="above_cells_mm", label="mm above the red cells"),
    Choice(value="volume_ml", label="mL out of each tube"),
    Choice(value="with_buffy_coat", label="mm below the red line, with the buffy coat"),
)
PLACES = tuple(Choice(value=place, label=f"{place} of the column") for place in ("bottom", "middle", "top"))
POPULATION = "population"

GROUPS = (
    Group(
        title="Blood",
        fields=(
            Field(name="blood.hematocrit_frac", label="Haematocrit", unit="0 to 1", start="0.42"),
            Field(name="blood.platelets_1e9_per_l", label="Platelets", unit="10⁹/L", start="250"),
            Field(
                name="blood.white_cells_1e9_per_l",
                label="White cells",
                unit="10⁹/L",
                start="6.5",
                when_empty=POPULATION,
            ),
        ),
    ),
    Group(
        title="More about the blood",
        folded="blood",
        fields=(
            Field(
                name="blood.lymphocytes_frac", label="Lymphocytes", unit="0 to 1", start="0.30", when_empty=POPULATION
            ),
            Field(name="blood.monocytes_frac", label="Monocytes", unit="0 to 1", start="0.07", when_empty=POPULATION),
            Field(
                name="blood.mean_platelet_volume_fl",
                label="Mean platelet volume",
                unit="fL",
                start="9.0",
                when_empty=POPULATION,
            ),
            Field(name="blood.temperature_c", label="Temperature", unit="°C", start="22", when_empty=POPULATION),
        ),
    ),
    Group(
        title="Collection",
        fields=(
            Field(name="collection.tubes", label="Tubes", start="4"),
            Field(name="collection.blood_ml", label="Blood in each", unit="mL", start="8.5"),
            Field(name="collection.anticoagulant_ml", label="Anticoagulant in each", unit="mL", start="1.5"),
        ),
    ),
    Group(
        title="Soft spin",
        fields=(
            Field(name="steps.0.rcf", label="Force", unit="× g", start="160"),
            Field(name="steps.0.rcf_at", label="Force is meant at the", start="bottom", choices=PLACES),
            Field(name="steps.0.minutes", label="At speed for", unit="min", start="10"),
            Field(name="steps.0.up_s", label="Speeding up", unit="s", start="30", when_empty=POPULATION),
            Field(name="steps.0.down_s", label="Slowing down", unit="s", start="60", when_empty=POPULATION),
        ),
    ),
    Group(
        title="Withdraw plasma",
        fields=(
            Field(name="steps.1.value", label="Stop at", start="3.0"),
            Field(name="steps.1.stop", label="Measured in", start="above_cells_mm", choices=STOPS),
            Field(
                name="steps.1.pool_tubes",
                label="Pool into",
                unit="tubes",
                start="2",
                when_empty="fewest",
            ),
        ),
    ),
    Group(
        title="Hard spin",
        fields=(
            Field(name="steps.2.rcf", label="Force", unit="× g", start="1600"),
            Field(name="steps.2.minutes", label="At speed for", unit="min", start="10"),
        ),
    ),
    Group(
        title="Leave and resuspend",
        fields=(
            Field(name="steps.3.leave_ml", label="Leave in all", unit="mL", start="3.4"),
            Field(
                name="steps.4.handling_frac",
                label="Come back into suspension",
                unit="0 to 1",
                start="0.87",
                when_empty=POPULATION,
            ),
        ),
    ),
    Group(
        title="Rotor",
        folded="rotor",
        fields=(
            Field(name="rotor.bottom_radius_mm", label="Centre to tube bottom, spinning", unit="mm", start="160"),
            Field(name="rotor.angle_deg", label="Angle; 90 swings out", unit="°", start="90"),
            Field(name="rotor.max_rcf", label="The rotor's limit", unit="× g", start="3000"),
        ),
    ),
    Group(
        title="First tube",
        folded="first tube",
        fields=(
            Field(name="tubes.collection.inner_diameter_mm", label="Inner diameter", unit="mm", start="13.0"),
            Field(name="tubes.collection.bottom", label="Bottom", start="round", choices=BOTTOMS),
            Field(name="tubes.collection.cone_height_mm", label="Height of the cone", unit="mm", when_empty="conical"),
            Field(
                name="tubes.collection.tip_diameter_mm", label="Diameter at the tip", unit="mm", when_empty="conical"
            ),
            Field(name="tubes.collection.capacity_ml", label="Holds", unit="mL", start="11.0"),
            Field(name="tubes.collection.max_rcf", label="The tube's limit", unit="× g", start="3000"),
        ),
    ),
    Group(
        title="Second tube",
        folded="second tube",
        fields=(
            Field(name="tubes.conical.inner_diameter_mm", label="Inner diameter", unit="mm", start="14.6"),
            Field(name="tubes.conical.bottom", label="Bottom", start="conical", choices=BOTTOMS),
            Field(
                name="tubes.conical.cone_height_mm",
                label="Height of the cone",
                unit="mm",
                start="22.0",
                when_empty="conical",
            ),
            Field(
                name="tubes.conical.tip_diameter_mm",
                label="Diameter at the tip",
                unit="mm",
                start="2.0",
                when_empty="conical",
            ),
            Field(name="tubes.conical.capacity_ml", label="Holds", unit="mL", start="15.0"),
        ),
    ),
)
FIELDS = tuple(field for group in GROUPS for field in group.fields)
SEQUENCE: tuple[Mapping[str, str], ...] = (
    {"do": "spin"},
    {"do": "withdraw", "pool_into": "conical"},
    {"do": "spin"},
    {"do": "remove_supernatant"},
    {"do": "resuspend"},
)


def entered(posted: Mapping[str, str]) -> dict[str, str]:
    """Return what stands in every field: as posted, or as the form starts when nothing was posted."""
    if not posted:
        return {field.name: field.start for field in FIELDS}
    return {field.name: str(posted.get(field.name, "")).strip() for field in FIELDS}


def document_of(values: Mapping[str, str]) -> dict[str, object]:
    """Return the preparation file that ``values`` amount to, for ``preparation_from`` to judge."""
    sections: dict[str, object] = {"blood": {}, "collection": {"tube": "collection"}, "tubes": {}, "rotor": {}}
    steps = [dict[str, object](step) for step in SEQUENCE]
    for field in FIELDS:
        if not (text := values[field.name]):
            continue
        value = value_in(field, text)
        match field.name.split("."):
            case ["steps", place, key]:
                steps[int(place)][key] = value
            case [*path, key]:
                table_at(sections, path)[key] = value
    return {**sections, "steps": steps}


def shown_groups(values: Mapping[str, str], refused: Iterable[Refusal]) -> list[Entries]:
    """Return the form as the page shows it, each refused field beside the sentences that refuse it."""
    sentences = sentences_of(refused)
    return [shown_group(group, values, sentences) for group in GROUPS]


def unplaced(refused: Iterable[Refusal]) -> list[str]:
    """Return the refusals of what no field of the form stands for."""
    known = {field.name for field in FIELDS}
    return [str(refusal) for refusal in refused if refusal.field not in known]
