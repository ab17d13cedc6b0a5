"""Writes what the docs take from the code, so that they cannot say anything else.

Whole pages of docs/reference, and in every other page the answer below a command that is quoted with a ``$``.
Run as ``.venv/bin/python docs/generate.py``; ``tests/house/test_docs.py`` fails while a page is not what this makes.
"""

import copy
import io
import math
import re
import runpy
import tomllib
from collections.abc import Iterable, Mapping
from contextlib import redirect_stdout
from dataclasses import MISSING, Field, fields
from enum import StrEnum
from pathlib import Path
from typing import Any  # a document as read from a file is nested plain data of any kind

from plasmawright.cli.main import code_of
from plasmawright.exchange.toml.decode import BYTES_MAX
from plasmawright.parameters.sets import central
from plasmawright.parameters.table import Kind, Sourced, references, row, rows, rules
from plasmawright.preparation.assumptions import POPULATIONS
from plasmawright.preparation.prediction import predict
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
from plasmawright.preparation.reading import TIP_OF_BORE_MAX, TUBE_KINDS_MAX, preparation_from
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

# A command the papers show with its answer, and the indented lines below it; those that only read and end soon.
QUOTED = re.compile(
    r"^(    \$ plasmawright ((?:simulate|map|balance) .*)\n)((?:    .*\n|\n(?=    ))+)", flags=re.MULTILINE
)
FIGURES = re.compile(r"-?\d[\d.]*(?:e[+-]\d+)?")
# What is changed about the example, one thing at a time: a place in the file and its value, or a row and its factor.
CHANGED_IN_FILE: tuple[tuple[str, tuple[str | int, ...], float | str], ...] = (
    ("stop at 2 mm above the red cells", ("steps", 1, "value"), 2.0),
    ("stop at 4 mm", ("steps", 1, "value"), 4.0),
    ("haematocrit 0.36", ("blood", "hematocrit_frac"), 0.36),
    ("haematocrit 0.48", ("blood", "hematocrit_frac"), 0.48),
    ("soft spin 30 % weaker", ("steps", 0, "rcf"), 112),
    ("soft spin 30 % stronger", ("steps", 0, "rcf"), 208),
    ("soft spin's force meant at the top", ("steps", 0, "rcf_at"), "top"),
    ("bore 12.4 mm", ("tubes", "collection", "inner_diameter_mm"), 12.4),
    ("bore 13.7 mm", ("tubes", "collection", "inner_diameter_mm"), 13.7),
    ("temperature 18 °C", ("blood", "temperature_c"), 18),
    ("temperature 25 °C", ("blood", "temperature_c"), 25),
    ("mean platelet volume 8 fL", ("blood", "mean_platelet_volume_fl"), 8),
    ("mean platelet volume 10 fL", ("blood", "mean_platelet_volume_fl"), 10),
)
CHANGED_ROWS = (
    "red_cell_aggregation",
    "platelet_expression",
    "platelet_mobility",
    "stirring_m2_per_s",
    "red_cell_density",
    "platelet_density",
)


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


def sensitivities_page() -> str:
    """Return the page of what moves the answer."""
    example = tomllib.loads((DOCS / "examples/contract.toml").read_text(encoding="utf-8"))
    lines = [["nothing", *_four_numbers(example, {})]]
    for words, place, value in CHANGED_IN_FILE:
        changed: Any = copy.deepcopy(example)
        inside = changed
        for part in place[:-1]:
            inside = inside[part]
        inside[place[-1]] = value
        lines.append([words, *_four_numbers(changed, {})])
    lines.append(["red-cell aggregation halved", *_four_numbers(example, _times("red_cell_aggregation", 0.5))])
    lines.append(["red-cell aggregation doubled", *_four_numbers(example, _times("red_cell_aggregation", 2.0))])
    for name in CHANGED_ROWS:
        for sign, words in ((-1, "less"), (1, "more")):
            moved = row(name).value + sign * row(name).spread
            lines.append([f"`{name}` one spread {words}", *_four_numbers(example, {name: max(moved, 0.0)})])
    head = ("changed", "plasma out, mL", "interface, mm", "in the plasma, %", "in the product, %")
    parts = [
        MADE,
        "# What moves the answer",
        "[contract.toml](../examples/contract.toml) with one thing changed at a time, everything else at its "
        "centre. The last two columns are shares of the platelets drawn: in the plasma after the soft spin and "
        "in the product. All predicted.",
        table(head, lines),
        "The example stands near its ridge, where much is forgiven. See [the model](../explanation/model.md).",
    ]
    return "\n\n".join(parts) + "\n"


def _times(name: str, factor: float) -> dict[str, float]:
    return {name: factor * row(name).value}


def _four_numbers(document: Mapping[str, object], moved: Mapping[str, float]) -> list[str]:
    told: Any = predict(preparation_from(document), central().replaced(**moved)).as_document()
    first, product = told["after_first_spin"], told["products"]["prp"]
    shares = [f"{100 * one['recovery_frac']:.1f}" for one in (first, product)]
    return [f"{first['plasma_ml']:.1f}", f"{first['interface_mm']:.1f}", *shares]


def refreshed(page: str) -> str:
    """Return a page with the answers below its quoted commands as they are now.

    A quoted line is the printed one that reads the same but for its figures; a line of ``…`` stands for any number.
    """

    def answered(quote: re.Match[str]) -> str:
        command, block = quote[2], quote[3]
        waiting = iter(_printed(command))
        told = []
        for line in block.splitlines():
            wanted = line.removeprefix("    ")
            if wanted.strip() not in {"", "…"}:
                wanted = next((one for one in waiting if _words(one) == _words(wanted)), "")
                if not wanted:
                    raise LookupError(f"{line!r} is quoted, but `plasmawright {command}` prints nothing like it")
            told.append(f"    {wanted}".rstrip())
        return quote[1] + "\n".join(told) + "\n"

    return QUOTED.sub(answered, page)


def _printed(command: str) -> list[str]:
    arguments = [str(DOCS.parent / part) if part.startswith("docs/") else part for part in command.split()]
    with redirect_stdout(io.StringIO()) as printed:
        code = code_of(arguments)
    if code != 0:
        raise LookupError(f"`plasmawright {command}` is quoted and ends with {code}")
    return printed.getvalue().splitlines()


def _words(line: str) -> str:
    return " ".join(FIGURES.sub("#", line).split())


def pages() -> dict[str, str]:
    """Return what each page that takes something from the code should hold, by its path below docs."""
    made = {
        "reference/preparation-file.md": preparation_page(),
        "reference/parameters.md": parameters_page(),
        "reference/sensitivities.md": sensitivities_page(),
        "reference/steps.md": f"{MADE}\n\n{runpy.run_path(str(DOCS / 'steps.py'))['steps_page'](table)}",
    }
    for page in sorted(DOCS.rglob("*.md")):
        text = page.read_text(encoding="utf-8")
        if QUOTED.search(text):
            made[page.relative_to(DOCS).as_posix()] = refreshed(text)
    return made


def main() -> None:
    """Write every page that takes something from the code."""
    for name, text in pages().items():
        (DOCS / name).write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
