"""Reading a visit: plain keys and values in, a checked :class:`Visit` or every refusal out."""

import math
from collections.abc import Mapping

from plasmawright.errors import Refusal, Refusals, shown
from plasmawright.planning.visit import (
    AtHand,
    Counts,
    Limits,
    Patient,
    Product,
    Side,
    Site,
    Tolerance,
    Visit,
    WhiteCells,
)
from plasmawright.practice.person import SexForBloodVolume
from plasmawright.preparation.reading import BLOOD_KEYS, rotor_from, tubes_from
from plasmawright.preparation.section import Section
from plasmawright.preparation.sequence import refuse_column

SITES_MAX = 24
TEXT_CHARACTERS_MAX = 120
COUNT_KEYS = ("hemoglobin_g_per_dl", *(key for key in BLOOD_KEYS if key != "temperature_c"))
PATIENT_KEYS = ("reference", "weight_kg", "height_cm", "sex_for_blood_volume", "age_years", "red_cell_tolerance")
BENCH_KEYS = (
    "tube", "second_tube", "blood_ml", "anticoagulant_ml", "tubes_at_hand", "second_tubes_at_hand", "max_blood_ml",
    "places", "temperature_c", "stop_spread_mm",
)  # fmt: skip
SITE_KEYS = ("id", "name", "side", "product", "volume_ml", "platelets_1e9")


def visit_from(document: Mapping[str, object]) -> Visit:
    """Read a visit from the keys and values of a file or a form.

    Raises
    ------
    Refusals
        With everything that is wrong, in the order of the file's sections.
    """
    found: list[Refusal] = []
    whole = Section(path="", kind="", fields=document, found=found)
    whole.known(("patient", "blood", "bench", "rotor", "tubes", "sites", "limits"))
    patient = _patient_from(whole)
    blood = _counts_from(whole)
    bench = _bench_from(whole)
    rotor = rotor_from(whole)
    tubes = tubes_from(whole)
    sites = _sites_from(whole)
    limits = _limits_from(whole)
    if patient and bench and rotor and tubes is not None and sites is not None:
        visit = Visit(
            patient=patient, blood=blood, bench=bench, rotor=rotor, tubes=tubes, sites=tuple(sites), limits=limits
        )
        _refuse_nonsense(visit, whole)
        if not found:
            return visit
    raise Refusals(found)


def _patient_from(whole: Section) -> Patient | None:
    section = whole.section(
        "patient", "patient", "Add [patient] with weight_kg, height_cm, sex_for_blood_volume and age_years."
    )
    if section is None:
        return None
    section.known(PATIENT_KEYS)
    return Patient(
        weight_kg=section.number("weight_kg"),
        height_cm=section.number("height_cm"),
        sex_for_blood_volume=section.choice("sex_for_blood_volume", SexForBloodVolume) or SexForBloodVolume.FEMALE,
        age_years=section.number("age_years"),
        reference=_text(section, "reference"),
        red_cell_tolerance=section.choice("red_cell_tolerance", Tolerance, Tolerance.USUAL) or Tolerance.USUAL,
    )


def _counts_from(whole: Section) -> Counts:
    if "blood" not in whole.fields:
        return Counts()
    section = whole.table("blood", whole.fields["blood"], "blood")
    if section is None:
        return Counts()
    section.known((*COUNT_KEYS, "counted_days_ago"))
    return Counts(**{key: section.optional_number(key) for key in (*COUNT_KEYS, "counted_days_ago")})


def _bench_from(whole: Section) -> AtHand | None:
    section = whole.section("bench", "bench", "Add [bench] with the tubes, volumes and places at hand.")
    if section is None:
        return None
    section.known(BENCH_KEYS)
    return AtHand(
        tube=section.text("tube", "Write the name of a section under [tubes]."),
        second_tube=section.text("second_tube", "Write the name of a section under [tubes]."),
        blood_ml=section.number("blood_ml"),
        anticoagulant_ml=section.number("anticoagulant_ml"),
        tubes_at_hand=section.whole("tubes_at_hand"),
        places=section.whole("places"),
        second_tubes_at_hand=section.optional_whole("second_tubes_at_hand") or 4,
        max_blood_ml=section.optional_number("max_blood_ml"),
        temperature_c=section.optional_number("temperature_c"),
        stop_spread_mm=section.optional_number("stop_spread_mm"),
    )


def _sites_from(whole: Section) -> list[Site] | None:
    listed = whole.fields.get("sites")
    if not isinstance(listed, list) or not 1 <= len(listed) <= SITES_MAX:
        given = "missing" if listed is None else f"{len(listed)} sites" if isinstance(listed, list) else "not a list"
        whole.refuse(
            "sites", given, f"it must hold 1 to {SITES_MAX} sites", "Write each as [[sites]] with its keys below."
        )
        return None
    sites: list[Site] = []
    for number, fields in enumerate(listed):
        section = whole.table(f"sites.{number}", fields, "sites")
        if section is None:
            continue
        section.known(SITE_KEYS)
        given_id = _text(section, "id")
        sites.append(
            Site(
                id=given_id or f"s{number + 1}",
                name=_required_text(section, "name"),
                product=section.choice("product", Product) or Product.PRP,
                volume_ml=section.number("volume_ml"),
                side=section.choice("side", Side, Side.NONE) or Side.NONE,
                platelets_1e9=section.optional_number("platelets_1e9"),
            )
        )
    ids = [site.id for site in sites]
    for number, one in enumerate(ids):
        if one in ids[:number]:
            whole.refuse(f"sites.{number}.id", one, "two sites share it", "Give each site an id of its own.")
    return sites


def _limits_from(whole: Section) -> Limits:
    if "limits" not in whole.fields:
        return Limits()
    section = whole.table("limits", whole.fields["limits"], "limits")
    if section is None:
        return Limits()
    section.known(("red_cells_1e12_per_l", "white_cells"))
    return Limits(
        red_cells_1e12_per_l=section.optional_number("red_cells_1e12_per_l"),
        white_cells=section.choice("white_cells", WhiteCells, WhiteCells.ANY) or WhiteCells.ANY,
    )


def _text(section: Section, key: str) -> str:
    """Read a short text that may be left out."""
    value = section.fields.get(key, "")
    if not isinstance(value, str) or len(value) > TEXT_CHARACTERS_MAX or not value.isprintable():
        limit = f"it must be text of at most {TEXT_CHARACTERS_MAX} characters on one line"
        section.refuse(key, value if isinstance(value, str) else "not text", limit, "Shorten it.")
        return ""
    return value


def _required_text(section: Section, key: str) -> str:
    if key not in section.fields:
        section.missing(key, "Name the site as you would say it aloud.")
        return ""
    return _text(section, key)


def _refuse_nonsense(visit: Visit, whole: Section) -> None:
    """Refuse what no single field shows to be wrong."""
    bench = visit.bench
    for key, name in (("tube", bench.tube), ("second_tube", bench.second_tube)):
        if name and name not in visit.tubes:
            known = ", ".join(shown(one) for one in visit.tubes)
            whole.refuse(f"bench.{key}", name, f"it must be a section under [tubes]: {known}", "Name one of these.")
    kind = visit.tubes.get(bench.tube)
    filled_ml = bench.blood_ml + bench.anticoagulant_ml
    if kind is not None and filled_ml > kind.capacity_ml:
        whole.refuse(
            "bench.blood_ml",
            bench.blood_ml,
            f"with {bench.anticoagulant_ml:g} mL of anticoagulant it makes {filled_ml:g} mL and the tube holds "
            f"{kind.capacity_ml:g} mL",
            "Draw less, or name another tube.",
        )
    elif kind is not None:
        refuse_column("bench.blood_ml", kind, visit.rotor, filled_ml, whole.found)
    if bench.max_blood_ml is not None and not math.isnan(bench.blood_ml) and bench.max_blood_ml < bench.blood_ml:
        whole.refuse(
            "bench.max_blood_ml",
            bench.max_blood_ml,
            f"it must allow one tube of {bench.blood_ml:g} mL",
            "Raise it, or use smaller tubes.",
        )
    shares = (visit.blood.lymphocytes_frac or 0) + (visit.blood.monocytes_frac or 0)
    if shares > 1 + 1e-9:
        whole.refuse(
            "blood.lymphocytes_frac",
            visit.blood.lymphocytes_frac,
            f"with monocytes_frac it makes {shares:.4g} and must not pass 1",
            "Write shares of the white cells; what is left are the granulocytes.",
        )
    for number, site in enumerate(visit.sites):
        if site.product is Product.PPP and site.platelets_1e9 is not None:
            whole.refuse(
                f"sites.{number}.platelets_1e9",
                site.platelets_1e9,
                "platelets are wished of platelet-rich plasma only",
                "Leave the wish out, or make the product prp.",
            )
    if not any(site.product is Product.PRP for site in visit.sites):
        whole.refuse("sites", "no prp", "at least one site must receive platelet-rich plasma", "Add one.")
