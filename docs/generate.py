"""Writes the pages of docs/reference that are made from the code, so that they cannot say anything else.

Run as ``.venv/bin/python docs/generate.py``; ``tests/house/test_docs.py`` fails while a page is not what this makes.
"""

import math
from collections.abc import Iterable
from dataclasses import MISSING, Field, fields
from enum import StrEnum
from pathlib import Path

from plasmawright.exchange.toml.decode import BYTES_MAX
from plasmawright.parameters.table import Kind, Sourced, references, row, rows, rules
from plasmawright.preparation.assumptions import POPULATIONS
from plasmawright.preparation.protocol import (
    Blood,
    Collection,
    Place,
    RemoveSupernatant,
    Resuspend,
    Rotor,
    Spin,
    Stop,
    TubeKind,
    Withdraw,
)
from plasmawright.preparation.ranges import RANGES, Range
from plasmawright.preparation.reading import TIP_OF_BORE_MAX, TUBE_KINDS_MAX
from plasmawright.preparation.section import NAME_CHARACTERS_MAX
from plasmawright.preparation.sequence import COLUMN_MM_MIN, COLUMN_OF_RADIUS_MAX
from plasmawright.preparation.steps import STEPS_MAX
from plasmawright.science.tube import Bottom

DOCS = Path(__file__).resolve().parent
MADE = "<!-- Made by docs/generate.py from the code. Change the code, not this page. -->"

# Rows that stand in for a key which is left out, beyond those of the blood.
FALLBACKS = {**POPULATIONS, "up_s": "ramp_up_s", "down_s": "ramp_down_s", "handling_frac": "handling_frac"}
CHOICES: dict[str, type[StrEnum]] = {"bottom": Bottom, "rcf_at": Place, "stop": Stop}
# What a key without a range is, and what a key is for where its name does not say it.
WORDS = {
    "collection.tube": "A name under `[tubes]`: what the blood is drawn into.",
    "tubes.bottom": "`round` is a hemisphere of the bore's diameter.",
    "tubes.graduated": "Whether millilitres are printed on it.",
    "tubes.bottom_radius_mm": "Where this kind's adapter puts its bottom.",
    "tubes.max_rcf": "The tube's own limit.",
    "spin.rcf_at": "Where along the column `rcf` is meant; not beside `rpm`.",
    "withdraw.stop": "How the hand knows where to stop.",
    "withdraw.value": "What `stop` says, in its unit; see the table below.",
    "withdraw.pool_into": "A name under `[tubes]`; the plasma is split evenly over tubes of this kind.",
}
# Where a default is neither a number nor a distribution.
WHEN_LEFT_OUT = {
    "tubes.cone_height_mm": "**required** for `conical`, refused for others",
    "tubes.tip_diameter_mm": "**required** for `conical`, refused for others",
    "tubes.bottom_radius_mm": "that of `[rotor]`",
    "tubes.max_rcf": "that of `[rotor]`",
    "tubes.empty_mass_g": "nothing changes",
    "spin.rcf": "**one of** `rcf` and `rpm`",
    "spin.rpm": "**one of** `rcf` and `rpm`",
    "withdraw.pool_tubes": "as few as hold it",
}
SECTIONS: tuple[tuple[str, str, type, str], ...] = (
    ("`[blood]`", "blood", Blood, "The blood as drawn, before anticoagulant."),
    ("`[collection]`", "collection", Collection, "What is drawn."),
    ("`[tubes.NAME]`", "tubes", TubeKind, "One section for each kind of tube; `NAME` is yours to choose."),
    ("`[rotor]`", "rotor", Rotor, "The rotor, as it spins."),
    ('`[[steps]]` with `do = "spin"`', "spin", Spin, "Spins the tubes in hand."),
    (
        '`[[steps]]` with `do = "withdraw"`',
        "withdraw",
        Withdraw,
        "Draws plasma from the top of every tube in hand; the tubes it is pooled into are then in hand.",
    ),
    (
        '`[[steps]]` with `do = "remove_supernatant"`',
        "remove_supernatant",
        RemoveSupernatant,
        "Takes the platelet-poor plasma off the pellets.",
    ),
    (
        '`[[steps]]` with `do = "resuspend"`',
        "resuspend",
        Resuspend,
        "Brings the pellets back into what was left; what does not come back is named as lost in handling.",
    ),
)
KINDS = {
    Kind.DEFINED: "exact by definition",
    Kind.PUBLISHED: "read in print, at the place named",
    Kind.MEASURED: "measured by us",
    Kind.FITTED: "chosen so that the model meets published experiments",
    Kind.MEMORY: "from memory; not looked up",
    Kind.ASSUMED: "a judgement without a source",
}


def table(head: Iterable[str], lines: Iterable[Iterable[str]]) -> str:
    """Return a Markdown table."""
    head = list(head)
    written = [head, ["---"] * len(head), *lines]
    return "\n".join("| " + " | ".join(cell.replace("|", "\\|") for cell in line) + " |" for line in written)


def preparation_page() -> str:
    """Return the page of every key of a preparation file."""
    parts = [
        MADE,
        "# The preparation file",
        "One blood through one protocol, as [TOML](https://toml.io): UTF-8 text, at most "
        f"{BYTES_MAX / 1e6:g} MB. [contract.toml](../examples/contract.toml) is a whole one to copy. "
        "Keys not named here are refused with the nearest known key. A key left out either has the default shown or "
        "is drawn from the distribution shown, and then stands under `assumed` in the answer. Ranges include their "
        "ends. What lies outside is refused; the reasons are in the last column.",
    ]
    for title, kind, data, what in SECTIONS:
        parts += [f"## {title}", what, _keys(kind, data)]
        if data is Withdraw:
            parts.append(_stops())
    return "\n\n".join([*parts, _rules()]) + "\n"


def _keys(kind: str, data: type) -> str:
    lines = [_key(kind, field, RANGES.get(f"{kind}.{field.name}")) for field in fields(data)]
    return table(("key", "unit", "range", "when left out", "why"), lines)


def _key(kind: str, field: "Field[object]", allowed: Range | None) -> list[str]:
    name = f"{kind}.{field.name}"
    words = WORDS.get(name, "")
    if allowed is not None:
        reason = f"{words} {allowed.reason}".strip()
        return [f"`{field.name}`", allowed.unit, f"{allowed.low:g} to {allowed.high:g}", _default(name, field), reason]
    if field.name in CHOICES:
        what = ", ".join(f"`{choice}`" for choice in CHOICES[field.name])
    elif field.type is bool:
        what = "`true`, `false`"
    else:
        what = "number" if field.type is float else "text"
    return [f"`{field.name}`", "", what, _default(name, field), words]


def _default(name: str, field: "Field[object]") -> str:
    if name in WHEN_LEFT_OUT:
        return WHEN_LEFT_OUT[name]
    if field.default is MISSING:
        return "**required**"
    if field.default is None:
        return drawn_from(row(FALLBACKS[field.name]))
    if isinstance(field.default, bool):
        return f"`{str(field.default).lower()}`"
    return f"`{field.default:g}`" if isinstance(field.default, float) else f"`{field.default}`"


def drawn_from(found: Sourced) -> str:
    """Return a row as a distribution in words, linked to its place on the page of parameters."""
    return f"[{found.value:g} ± {found.spread:g}](parameters.md#{found.table}), {found.shape}"


def _stops() -> str:
    meanings = {
        Stop.ABOVE_CELLS_MM: "above the red-cell interface",
        Stop.VOLUME_ML: "from each tube",
        Stop.WITH_BUFFY_COAT: "below the red-cell interface: the buffy coat comes along",
    }
    lines = []
    for stop, meaning in meanings.items():
        allowed = RANGES[f"withdraw.{stop}"]
        lines.append([f"`{stop}`", f"{allowed.unit} {meaning}", f"{allowed.low:g} to {allowed.high:g}", allowed.reason])
    return table(("`stop`", "`value` is", "range", "why"), lines)


def _rules() -> str:
    return f"""## Rules between keys

- `blood_ml` and `anticoagulant_ml` together fit into `capacity_ml`. A ratio is never converted.
- The column drawn stands at least {COLUMN_MM_MIN:g} mm high, and reaches towards the axis over at most
  {COLUMN_OF_RADIUS_MAX:g} of the radius.
- `lymphocytes_frac` and `monocytes_frac` together do not pass 1; the rest are granulocytes.
- `tip_diameter_mm` is at most {TIP_OF_BORE_MAX:g} of the bore; a wider tip is a flat bottom.
- The force at the tube's bottom passes neither the rotor's `max_rcf` nor the tube's, wherever `rcf` is meant.
- There are 1 to {STEPS_MAX} steps and 1 to {TUBE_KINDS_MAX} kinds of tube; a tube's name has at most
  {NAME_CHARACTERS_MAX} characters.
- At least one step withdraws. A `withdraw` follows a spin of the same tubes; `remove_supernatant` follows a spin of
  pooled plasma; `resuspend` follows `remove_supernatant`.
- A stop lies inside the fluid; `leave_ml` is less than what can be in hand; `pool_tubes` are enough to hold the plasma.

In a refusal the steps are counted from 0, as in `steps.0.rcf`; `map --step` counts them from 1. A file may end after
one spin and its withdrawal: the plasma withdrawn is then the product.
"""


def parameters_page() -> str:
    """Return the page of every row of the tables, with its source."""
    kinds = ", ".join(f"`{kind}` ({meaning})" for kind, meaning in KINDS.items())
    parts = [
        MADE,
        "# Parameters",
        "Every number the answers stand on that nobody gave. `±` is one standard uncertainty. A `lognormal` row's "
        "value is its median; a `uniform` one reaches the root of 3 times its spread to both sides; a `fixed` one is "
        "never drawn. Bounds are never crossed. A unit of 1 is no unit. How a number is known: " + kinds + ".",
        _count_of_kinds(),
    ]
    every = [*rows().values(), *rules().values()]
    for name in dict.fromkeys(one.table for one in every):
        found = [one for one in every if one.table == name]
        head = ("row", "value", "unit", "shape", "bounds", "kind", "source and place", "conditions")
        parts += [f"## {name}", table(head, [_parameter(one) for one in found])]
    fitted = [one for one in rows().values() if one.value_before is not None]
    lines = [
        [f"`{one.name}`", _plus_minus(one.value_before, one.spread_before), _plus_minus(one.value, one.spread)]
        for one in fitted
    ]
    parts += [
        "## Before the fit",
        "What was believed of the fitted rows before any published experiment was looked at. Whoever judges the fit "
        "starts from there.",
        table(("row", "before", "now"), lines),
        "## Sources",
        table(
            ("key", "source", "what was seen of it"),
            [[f"`{one.key}`", _linked(one.text, one.doi), one.seen] for one in references().values()],
        ),
    ]
    return "\n\n".join(parts) + "\n"


def _count_of_kinds() -> str:
    held = [one.kind for one in (*rows().values(), *rules().values())]
    counted = ", ".join(f"{held.count(kind)} {kind}" for kind in Kind if kind in held)
    return f"{len(held)} rows: {counted}."


def _parameter(found: Sourced) -> list[str]:
    low = "" if math.isinf(found.low) else f"from {found.low:g}"
    high = "" if math.isinf(found.high) else f"to {found.high:g}"
    return [
        f"`{found.name}`",
        _plus_minus(found.value, found.spread),
        found.unit,
        found.shape,
        f"{low} {high}".strip(),
        found.kind,
        f"`{found.source.key}`: {found.locator}",
        found.conditions,
    ]


def _plus_minus(value: float | None, spread: float | None) -> str:
    return f"{value:g} ± {spread:g}" if spread else f"{value:g}"


def _linked(text: str, doi: str | None) -> str:
    return text if doi is None else f"{text}, [doi {doi}](https://doi.org/{doi})"


def pages() -> dict[str, str]:
    """Return what each made page should hold, by its path below docs."""
    return {"reference/preparation-file.md": preparation_page(), "reference/parameters.md": parameters_page()}


def main() -> None:
    """Write every made page."""
    for name, text in pages().items():
        (DOCS / name).write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
