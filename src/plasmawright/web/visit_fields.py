"""The fields of one visit: patient, counts, sites, limits and what stands on the bench."""

from plasmawright.web.entry import Choice, Field, Group

NOT_COUNTED = "not counted"
FIRST, SECOND = "tubes.first", "tubes.second"
"""Where the two kinds of tube stand in the form; in the document they carry the names given to them."""

BOTTOMS = tuple(Choice(value=shape, label=shape) for shape in ("round", "flat", "conical"))
YES_NO = (Choice(value="false", label="no"), Choice(value="true", label="yes"))

PATIENT = Group(
    title="Patient",
    fields=(
        Field(
            name="patient.reference",
            label="Reference",
            inputmode="text",
            hint="Never a name; kept only once saved.",
        ),
        Field(name="patient.weight_kg", label="Weight", unit="kg"),
        Field(name="patient.height_cm", label="Height", unit="cm"),
        Field(name="patient.age_years", label="Age", unit="years"),
        Field(
            name="patient.sex_for_blood_volume",
            label="Blood-volume formula",
            start="female",
            choices=(Choice(value="female", label="female"), Choice(value="male", label="male")),
        ),
        Field(
            name="patient.red_cell_tolerance",
            label="Red cells tolerated",
            start="usual",
            choices=(Choice(value="low", label="few: stop farther off"), Choice(value="usual", label="as usual")),
        ),
    ),
)
COUNTS = Group(
    title="Blood counts",
    hint="What was not counted is left empty; every interval is then wider.",
    fields=(
        Field(name="blood.hematocrit_frac", label="Haematocrit", unit="0 to 1", when_empty=NOT_COUNTED),
        Field(name="blood.platelets_1e9_per_l", label="Platelets", unit="10⁹/L", when_empty=NOT_COUNTED),
        Field(name="blood.white_cells_1e9_per_l", label="White cells", unit="10⁹/L", when_empty=NOT_COUNTED),
        Field(name="blood.counted_days_ago", label="Counted", unit="days ago", when_empty="today"),
    ),
)
MORE_COUNTS = Group(
    title="More counts",
    folded="more counts",
    fields=(
        Field(name="blood.hemoglobin_g_per_dl", label="Haemoglobin", unit="g/dL", when_empty=NOT_COUNTED),
        Field(name="blood.lymphocytes_frac", label="Lymphocytes", unit="0 to 1", when_empty=NOT_COUNTED),
        Field(name="blood.monocytes_frac", label="Monocytes", unit="0 to 1", when_empty=NOT_COUNTED),
        Field(name="blood.mean_platelet_volume_fl", label="Platelet volume", unit="fL", when_empty=NOT_COUNTED),
    ),
)
LIMITS = Group(
    title="Limits",
    fields=(
        Field(name="limits.red_cells_1e12_per_l", label="Red cells at most", unit="10¹²/L", when_empty="no wish"),
        Field(
            name="limits.white_cells",
            label="White cells",
            start="any",
            choices=(
                Choice(value="any", label="as they come"),
                Choice(value="poor", label="poor"),
                Choice(value="rich", label="rich"),
            ),
        ),
    ),
)
BENCH = Group(
    title="Bench",
    fields=(
        Field(name="bench.blood_ml", label="Blood in each tube", unit="mL"),
        Field(name="bench.anticoagulant_ml", label="Anticoagulant in each", unit="mL"),
        Field(name="bench.tubes_at_hand", label="Tubes at hand", unit="tubes"),
        Field(name="bench.second_tubes_at_hand", label="Second tubes at hand", unit="tubes", when_empty="4"),
        Field(name="bench.max_blood_ml", label="Blood at most", unit="mL", when_empty="no limit"),
        Field(name="bench.places", label="Places in the rotor", unit="places"),
    ),
)
MORE_BENCH = Group(
    title="Room and hand",
    folded="room and hand",
    fields=(
        Field(name="bench.temperature_c", label="Temperature", unit="°C", when_empty="22"),
        Field(name="bench.stop_spread_mm", label="Your stop is within", unit="mm", when_empty="not known"),
    ),
)
ROTOR = Group(
    title="Rotor",
    folded="rotor",
    fields=(
        Field(name="rotor.bottom_radius_mm", label="Centre to tube bottom", unit="mm", hint="while spinning"),
        Field(name="rotor.angle_deg", label="Angle", unit="°", when_empty="90", hint="90 swings out"),
        Field(name="rotor.max_rcf", label="Its limit", unit="× g"),
    ),
)


def tube_group(*, title: str, prefix: str, name: str) -> Group:
    """Return the fields of one kind of tube; ``name`` is the field that holds what it is called."""
    return Group(
        title=title,
        folded=title.lower(),
        fields=(
            Field(name=name, label="Called", inputmode="text"),
            Field(name=f"{prefix}.inner_diameter_mm", label="Inner diameter", unit="mm"),
            Field(name=f"{prefix}.bottom", label="Bottom", start="round", choices=BOTTOMS),
            Field(name=f"{prefix}.cone_height_mm", label="Height of the cone", unit="mm", when_empty="no cone"),
            Field(name=f"{prefix}.tip_diameter_mm", label="Diameter at the tip", unit="mm", when_empty="no cone"),
            Field(name=f"{prefix}.capacity_ml", label="Holds", unit="mL"),
            Field(name=f"{prefix}.bottom_radius_mm", label="Centre to its bottom", unit="mm", when_empty="as rotor"),
            Field(name=f"{prefix}.max_rcf", label="Its limit", unit="× g", when_empty="as rotor"),
            Field(name=f"{prefix}.empty_mass_g", label="Empty mass", unit="g", when_empty="not known"),
            Field(name=f"{prefix}.graduated", label="Graduated", start="false", choices=YES_NO),
        ),
    )


FIRST_TUBE = tube_group(title="First tube", prefix=FIRST, name="bench.tube")
SECOND_TUBE = tube_group(title="Second tube", prefix=SECOND, name="bench.second_tube")
PERSON_GROUPS = (PATIENT, COUNTS, MORE_COUNTS)
BENCH_GROUPS = (LIMITS, BENCH, MORE_BENCH, ROTOR, FIRST_TUBE, SECOND_TUBE)
GROUPS = (*PERSON_GROUPS, *BENCH_GROUPS)
FIELDS = tuple(field for group in GROUPS for field in group.fields)


def site_fields(number: int) -> tuple[Field, ...]:
    """Return the fields of one site; ``number`` from 0, as it stands in a file."""
    return (
        Field(name=f"sites.{number}.name", label="Site", inputmode="text"),
        Field(
            name=f"sites.{number}.side",
            label="Side",
            start="none",
            choices=tuple(Choice(value=side, label=side) for side in ("left", "right", "none")),
        ),
        Field(
            name=f"sites.{number}.product",
            label="Product",
            start="prp",
            choices=(Choice(value="prp", label="PRP"), Choice(value="ppp", label="PPP")),
        ),
        Field(name=f"sites.{number}.volume_ml", label="Volume", unit="mL"),
        Field(name=f"sites.{number}.platelets_1e9", label="Wish", unit="10⁹", when_empty="none"),
    )
