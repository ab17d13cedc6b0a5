"""Reading a preparation: plain keys and values in, a checked :class:`Preparation` or every refusal out.

What passes here can be predicted: the ranges and the rules of ``sequence.py`` keep out what the prediction could not
carry through. What needs the prediction itself (where the red cells will stand) is refused there.
"""

import math
from collections.abc import Mapping
from dataclasses import replace

from plasmawright.errors import Refusal, Refusals
from plasmawright.preparation.protocol import Blood, Collection, Preparation, Rotor, TubeKind
from plasmawright.preparation.section import NAME_CHARACTERS_MAX, Section
from plasmawright.preparation.sequence import refuse_nonsense
from plasmawright.preparation.steps import steps_from
from plasmawright.science.tube import Bottom

TUBE_KINDS_MAX = 20

BLOOD_KEYS = (
    "hematocrit_frac",
    "platelets_1e9_per_l",
    "white_cells_1e9_per_l",
    "lymphocytes_frac",
    "monocytes_frac",
    "mean_platelet_volume_fl",
    "temperature_c",
)
COLLECTION_KEYS = ("tubes", "blood_ml", "anticoagulant_ml", "tube")
TUBE_KEYS = (
    "inner_diameter_mm",
    "bottom",
    "capacity_ml",
    "cone_height_mm",
    "tip_diameter_mm",
    "bottom_radius_mm",
    "max_rcf",
    "empty_mass_g",
    "graduated",
)
ROTOR_KEYS = ("bottom_radius_mm", "angle_deg", "max_rcf")

# A cone whose tip is nearly as wide as the bore is a cylinder: it must be said to be one.
TIP_OF_BORE_MAX = 0.95


def preparation_from(document: Mapping[str, object]) -> Preparation:
    """Read a preparation from the keys and values of a file or a form.

    Raises
    ------
    Refusals
        With everything that is wrong, in the order of the file's sections.
    """
    found: list[Refusal] = []
    whole = Section(path="", kind="", fields=document, found=found)
    whole.known(("blood", "collection", "tubes", "rotor", "steps"))
    blood = blood_from(whole)
    collection = _collection_from(whole)
    tubes = tubes_from(whole)
    rotor = rotor_from(whole)
    steps = steps_from(whole)
    if blood and collection and rotor and tubes is not None and steps is not None:
        preparation = Preparation(blood=blood, collection=collection, rotor=rotor, steps=tuple(steps), tubes=tubes)
        refuse_nonsense(preparation, found)
        if not found:
            return preparation
    raise Refusals(found)


def blood_from(whole: Section) -> Blood | None:
    """Read ``[blood]``; ``None`` when it is missing."""
    section = whole.section("blood", "blood", "Add [blood] with hematocrit_frac and platelets_1e9_per_l.")
    if section is None:
        return None
    section.known(BLOOD_KEYS)
    blood = Blood(
        hematocrit_frac=section.number("hematocrit_frac"),
        platelets_1e9_per_l=section.number("platelets_1e9_per_l"),
        white_cells_1e9_per_l=section.optional_number("white_cells_1e9_per_l"),
        lymphocytes_frac=section.optional_number("lymphocytes_frac"),
        monocytes_frac=section.optional_number("monocytes_frac"),
        mean_platelet_volume_fl=section.optional_number("mean_platelet_volume_fl"),
        temperature_c=section.optional_number("temperature_c"),
    )
    shares = (blood.lymphocytes_frac or 0) + (blood.monocytes_frac or 0)
    if shares > 1 + 1e-9:
        section.refuse(
            "lymphocytes_frac",
            blood.lymphocytes_frac,
            f"with monocytes_frac it makes {shares:.4g} and must not pass 1",
            "Write shares of the white cells; what is left are the granulocytes.",
        )
    return blood


def _collection_from(whole: Section) -> Collection | None:
    section = whole.section(
        "collection", "collection", "Add [collection] with tubes, blood_ml, anticoagulant_ml, tube."
    )
    if section is None:
        return None
    section.known(COLLECTION_KEYS)
    return Collection(
        tubes=section.whole("tubes"),
        blood_ml=section.number("blood_ml"),
        anticoagulant_ml=section.number("anticoagulant_ml"),
        tube=section.text("tube", "Write the name of a section under [tubes]."),
    )


def tubes_from(whole: Section) -> dict[str, TubeKind] | None:
    """Read every ``[tubes.NAME]``; ``None`` when there is no ``tubes`` at all."""
    section = whole.section("tubes", "tubes", "Add a section such as [tubes.collection] for each kind of tube.")
    if section is None:
        return None
    if not 1 <= len(section.fields) <= TUBE_KINDS_MAX:
        whole.refuse(
            "tubes",
            f"{len(section.fields)} kinds",
            f"it must hold 1 to {TUBE_KINDS_MAX} kinds",
            "Keep the kinds that this preparation uses.",
        )
        return None
    kinds: dict[str, TubeKind] = {}
    for name, value in section.fields.items():
        if not (1 <= len(str(name)) <= NAME_CHARACTERS_MAX and str(name).isprintable()):
            limit = f"a tube's name must have 1 to {NAME_CHARACTERS_MAX} characters that can be printed"
            whole.refuse("tubes", name, limit, "Choose a short name.")
        elif kind := section.table(str(name), value, "tubes"):
            kinds[str(name)] = _tube_kind_from(kind)
    return kinds


def _tube_kind_from(section: Section) -> TubeKind:
    section.known(TUBE_KEYS)
    bottom = section.choice("bottom", Bottom)
    conical = bottom is Bottom.CONICAL
    for key in ("cone_height_mm", "tip_diameter_mm"):
        if bottom is not None and not conical and key in section.fields:
            section.refuse(
                key, section.fields[key], f"a {bottom} bottom has no cone", 'Drop it, or write bottom = "conical".'
            )
    kind = TubeKind(
        inner_diameter_mm=section.number("inner_diameter_mm"),
        bottom=bottom or Bottom.FLAT,
        capacity_ml=section.number("capacity_ml"),
        cone_height_mm=section.number("cone_height_mm") if conical else None,
        tip_diameter_mm=section.number("tip_diameter_mm") if conical else None,
        bottom_radius_mm=section.optional_number("bottom_radius_mm"),
        max_rcf=section.optional_number("max_rcf"),
        empty_mass_g=section.optional_number("empty_mass_g"),
        graduated=section.flag("graduated"),
    )
    widest_mm = TIP_OF_BORE_MAX * kind.inner_diameter_mm
    if kind.tip_diameter_mm is not None and kind.tip_diameter_mm > widest_mm:
        section.refuse(
            "tip_diameter_mm",
            kind.tip_diameter_mm,
            f"it must be at most {widest_mm:.4g}, {TIP_OF_BORE_MAX:g} of the bore",
            'Measure the inside of the tip; for a straight tube write bottom = "flat".',
        )
        return replace(kind, tip_diameter_mm=math.nan)
    return kind


def rotor_from(whole: Section) -> Rotor | None:
    """Read ``[rotor]``; ``None`` when it is missing."""
    section = whole.section("rotor", "rotor", "Add [rotor] with bottom_radius_mm and max_rcf.")
    if section is None:
        return None
    section.known(ROTOR_KEYS)
    if "bottom_radius_mm" not in section.fields:
        section.missing(
            "bottom_radius_mm",
            "The same rpm is a weak spin on a short radius and a strong one on a long: "
            "measure from the rotor's centre to the inside of the tube bottom, while spinning.",
        )
        radius_mm = math.nan
    else:
        radius_mm = section.number("bottom_radius_mm")
    angle_deg = section.optional_number("angle_deg")
    return Rotor(
        bottom_radius_mm=radius_mm,
        max_rcf=section.number("max_rcf"),
        angle_deg=90.0 if angle_deg is None else angle_deg,
    )
