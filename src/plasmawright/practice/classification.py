"""A product's letters under published schemes, each with its rule, its edge and the numbers it was made from.

Only schemes are here whose rule was read, at least in another paper's table. Letters sort products for a record; they
say nothing of effect. They may be made from counts or from a prediction: whoever prints them says which.
"""

from plasmawright.parameters.table import references, rule
from plasmawright.practice.dose import fold as fold_of
from plasmawright.practice.dose import purity_frac
from plasmawright.practice.guards import refuse_outside, refuse_unless_positive
from plasmawright.practice.product import Activation, ProductCells
from plasmawright.practice.statements import Class, Given, cited
from plasmawright.practice.units import PLATELETS_REMEDY, checked_blood_platelets_1e9_per_l, per_ul, red_cells_1e9_per_l

SHARE_REMEDY = "Write a share between 0 and 1. A percentage? Divide by 100."
MAGALON_RULE = (
    "Dose injected, billions: A above 5, B 3-5, C 1-3, D below 1. Efficiency (share of drawn platelets) and purity "
    "(platelets over platelets, red and white cells): A above 90 %, B 70-90, C 30-70, D below 30. Last, activated or "
    "not."
)
MAGALON_BOUNDARY = (
    "The source read does not settle its own cut-offs; ours: A is strictly above, B and C include their lower end."
)
DELONG_RULE = (
    "P1 at or below the blood's platelets, P2 above them to 750, P3 above 750 to 1250, P4 above 1250 x10^9/L; x if an "
    "activator was added; white cells A above the blood's, B at or below; neutrophils alpha above, beta at or below."
)
DELONG_BOUNDARY = "The upper end of each band belongs to it, as published. A question mark stands for what is unknown."
MISHRA_RULE = (
    "1 white cells increased, not activated; 2 increased, activated; 3 few or none, not activated; 4 few or none, "
    "activated. A from 5 times the blood's platelets, B below."
)
MISHRA_BOUNDARY = "Exactly 5 times is A, as published. Increased is taken as above the undiluted blood's: our reading."
MAUTNER_RULE = (
    "P platelets per µL and the volume injected; L minus below 1 %, plus above; R red cells minus below 1 % of the "
    "volume, plus above; A activated or not."
)
MAUTNER_BOUNDARY = (
    "At exactly 1 % the sign is minus: our choice. What the 1 % of L is a share of is not clear in the table read; "
    "here the neutrophils' share of the white cells."
)


def classify_magalon_2016(
    *, dose_1e9: float, recovery_frac: float, cells: ProductCells, activation: Activation
) -> Class:
    """Return letters for dose, efficiency and purity (A to D each) and whether the product was activated.

    ``dose_1e9`` is what is injected, ``recovery_frac`` the share of the drawn platelets in the product.
    """
    refuse_outside("platelets_1e9", dose_1e9, low=0, high=500, remedy="Write the platelets in billions: 4.8 for 4.8e9.")
    refuse_outside("recovery_frac", recovery_frac, low=0, high=1, remedy=SHARE_REMEDY)
    purity = purity_frac(
        platelets_1e9_per_l=cells.platelets_1e9_per_l,
        red_cells_1e12_per_l=cells.red_cells_1e12_per_l,
        white_cells_1e9_per_l=cells.white_cells_1e9_per_l,
    )
    dose_row = rule("magalon_dose_a_1e9")
    doses = (dose_row.value, rule("magalon_dose_b_1e9").value, rule("magalon_dose_c_1e9").value)
    shares = tuple(rule(f"magalon_share_{letter}_frac").value for letter in "abc")
    letters = (_letter(dose_1e9, doses), _letter(recovery_frac, shares), _letter(purity, shares))
    return Class(
        scheme=cited(dose_row),
        letters="-".join((*letters, "yes" if activation is Activation.ADDED else "no")),
        rule=f"{MAGALON_RULE} Purity here: {purity:.2%}, the {cells.red_cells_1e12_per_l:g} x10^12/L red cells being "
        f"{red_cells_1e9_per_l(cells.red_cells_1e12_per_l):g} x10^9/L.",
        boundary=MAGALON_BOUNDARY,
        inputs=(
            Given(name="dose", value=dose_1e9, unit="1e9"),
            Given(name="recovery", value=recovery_frac, unit="1"),
            *cells.given(),
        ),
    )


def classify_delong_2012(
    *,
    cells: ProductCells,
    blood_platelets_1e9_per_l: float,
    blood_white_cells_1e9_per_l: float | None = None,
    neutrophils_1e9_per_l: float | None = None,
    blood_neutrophils_1e9_per_l: float | None = None,
    activation: Activation,
) -> Class:
    """Return platelets P1 to P4, x if an activator was added, and white cells and neutrophils against baseline.

    White cells or neutrophils that are unknown on one side are written ``?``. Blood counts are of undiluted blood.
    """
    checked_blood_platelets_1e9_per_l(blood_platelets_1e9_per_l)
    band = _delong_band(cells.platelets_1e9_per_l, blood_platelets_1e9_per_l)
    white = _against(cells.white_cells_1e9_per_l, blood_white_cells_1e9_per_l, above="A", below="B")
    neutrophils = _against(neutrophils_1e9_per_l, blood_neutrophils_1e9_per_l, above="alpha", below="beta")
    activated = ("x",) if activation is Activation.ADDED else ()
    known = {
        "platelets of the blood": blood_platelets_1e9_per_l,
        "white cells of the blood": blood_white_cells_1e9_per_l,
        "neutrophils": neutrophils_1e9_per_l,
        "neutrophils of the blood": blood_neutrophils_1e9_per_l,
    }
    return Class(
        scheme=cited(rule("delong_p_two_1e9_per_l")),
        letters="-".join((band, *activated, white, neutrophils)),
        rule=DELONG_RULE,
        boundary=DELONG_BOUNDARY,
        inputs=(
            *cells.given(),
            *(Given(name=name, value=value, unit="1e9/L") for name, value in known.items() if value is not None),
        ),
    )


def classify_mishra_2012(
    *,
    cells: ProductCells,
    blood_platelets_1e9_per_l: float,
    blood_white_cells_1e9_per_l: float,
    activation: Activation,
) -> Class:
    """Return type 1 to 4 (white cells and activation) and A or B (fold). Blood counts are of undiluted blood."""
    checked_blood_platelets_1e9_per_l(blood_platelets_1e9_per_l)
    rich = _against(cells.white_cells_1e9_per_l, blood_white_cells_1e9_per_l, above="rich", below="poor") == "rich"
    row = rule("mishra_fold")
    fold = fold_of(platelets_1e9_per_l=cells.platelets_1e9_per_l, blood_platelets_1e9_per_l=blood_platelets_1e9_per_l)
    number = (1 if rich else 3) + (activation is Activation.ADDED)
    return Class(
        scheme=cited(row),
        letters=f"{number}{'A' if fold >= row.value else 'B'}",
        rule=MISHRA_RULE,
        boundary=MISHRA_BOUNDARY,
        inputs=(
            *cells.given(),
            Given(name="platelets of the blood", value=blood_platelets_1e9_per_l, unit="1e9/L"),
            Given(name="white cells of the blood", value=blood_white_cells_1e9_per_l, unit="1e9/L"),
        ),
    )


def classify_mautner_2015(
    *,
    volume_ml: float,
    platelets_1e9_per_l: float,
    neutrophils_of_white_cells_frac: float,
    red_cells_frac: float,
    activation: Activation,
) -> Class:
    """Return the four signs: platelets with volume, leukocytes, red cells, activation.

    ``red_cells_frac`` is the red cells' share of the product's volume; ``neutrophils_of_white_cells_frac`` the
    neutrophils' share of the white cells.
    """
    neutrophils_frac = neutrophils_of_white_cells_frac
    refuse_unless_positive("volume_ml", volume_ml, "Write the volume injected in mL.")
    refuse_outside("prp_platelets_1e9_per_l", platelets_1e9_per_l, low=0, high=10_000, remedy=PLATELETS_REMEDY)
    refuse_outside("neutrophils_of_white_cells_frac", neutrophils_frac, low=0, high=1, remedy=SHARE_REMEDY)
    refuse_outside("red_cells_frac", red_cells_frac, low=0, high=0.5, remedy=SHARE_REMEDY)
    row = rule("mautner_share_frac")
    above = {"L": neutrophils_frac > row.value, "R": red_cells_frac > row.value, "A": activation is Activation.ADDED}
    platelets = f"P {per_ul(platelets_1e9_per_l):.0f}/µL x {volume_ml:g} mL"
    return Class(
        scheme=cited(row),
        letters=" ".join((platelets, *(f"{letter}{'+' if there else '-'}" for letter, there in above.items()))),
        rule=MAUTNER_RULE,
        boundary=MAUTNER_BOUNDARY,
        inputs=(
            Given(name="volume", value=volume_ml, unit="mL"),
            Given(name="platelets", value=platelets_1e9_per_l, unit="1e9/L"),
            Given(name="neutrophils of the white cells", value=neutrophils_frac, unit="1"),
            Given(name="red cells by volume", value=red_cells_frac, unit="1"),
        ),
    )


def classify_weibrich_2004(platelets_1e9_per_l: float) -> Class:
    """Return where a concentration lies against one study's three groups: rabbit bone, no rule for people."""
    refuse_outside("prp_platelets_1e9_per_l", platelets_1e9_per_l, low=0, high=10_000, remedy=PLATELETS_REMEDY)
    low, high = rule("weibrich_low_1e9_per_l"), rule("weibrich_high_1e9_per_l")
    letters = "intermediate"
    if platelets_1e9_per_l < low.value:
        letters = "low"
    if platelets_1e9_per_l > high.value:
        letters = "high"
    return Class(
        scheme=cited(low),
        letters=letters,
        rule="Intermediate from 503 to 1729 x10^9/L, the groups of one study in rabbit bone; no rule for people.",
        boundary="Both ends belong to the intermediate group.",
        inputs=(Given(name="platelets", value=platelets_1e9_per_l, unit="1e9/L"),),
    )


def classify_white_cells(*, cells: ProductCells, blood_white_cells_1e9_per_l: float) -> Class:
    """Return ``rich`` or ``poor`` in white cells against the undiluted blood: our rule, printed with the answer."""
    return Class(
        scheme=references()["house_rule"].text,
        letters=_against(cells.white_cells_1e9_per_l, blood_white_cells_1e9_per_l, above="rich", below="poor"),
        rule="Rich if the product holds more white cells in 1e9/L than the undiluted blood, poor otherwise.",
        boundary="Equal is poor. Other schemes use a share instead of the blood's own number; letters may differ.",
        inputs=(
            *cells.given(),
            Given(name="white cells of the blood", value=blood_white_cells_1e9_per_l, unit="1e9/L"),
        ),
    )


def classify_red_cells(red_cells_1e12_per_l: float) -> Class:
    """Return ``few``, ``some`` or ``many`` red cells: bands of our own, a local choice, since none is published."""
    ProductCells(platelets_1e9_per_l=0, red_cells_1e12_per_l=red_cells_1e12_per_l, white_cells_1e9_per_l=0)
    low, high = rule("red_cells_low_1e12_per_l"), rule("red_cells_high_1e12_per_l")
    letters = "few" if red_cells_1e12_per_l < low.value else "some"
    if red_cells_1e12_per_l > high.value:
        letters = "many"
    return Class(
        scheme=cited(low),
        letters=letters,
        rule="Few below 0.1, some from 0.1 to 0.5, many above 0.5 x10^12/L. Local choice: no limit is published.",
        boundary="Both ends belong to the middle band.",
        inputs=(Given(name="red cells", value=red_cells_1e12_per_l, unit="1e12/L"),),
    )


def _delong_band(platelets_1e9_per_l: float, blood_platelets_1e9_per_l: float) -> str:
    if platelets_1e9_per_l <= blood_platelets_1e9_per_l:
        return "P1"
    if platelets_1e9_per_l <= rule("delong_p_two_1e9_per_l").value:
        return "P2"
    return "P3" if platelets_1e9_per_l <= rule("delong_p_three_1e9_per_l").value else "P4"


def _letter(value: float, edges: tuple[float, ...]) -> str:
    above_a, from_b, from_c = edges
    if value > above_a:
        return "A"
    if value >= from_b:
        return "B"
    return "C" if value >= from_c else "D"


def _against(product_1e9_per_l: float | None, blood_1e9_per_l: float | None, *, above: str, below: str) -> str:
    if product_1e9_per_l is None or blood_1e9_per_l is None:
        return "?"
    remedy = "White cells are in 1e9/L, of the undiluted blood where the blood is asked: 6500/µL is 6.5."
    refuse_outside("white_cells_1e9_per_l", product_1e9_per_l, low=0, high=90, remedy=remedy)
    refuse_outside("blood.white_cells_1e9_per_l", blood_1e9_per_l, low=0.1, high=90, remedy=remedy)
    return above if product_1e9_per_l > blood_1e9_per_l else below
