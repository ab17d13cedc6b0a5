"""Numbers end in their unit, where a name can be checked without knowing what it means."""

import ast
from pathlib import Path

UNITS = (
    "_m", "_mm", "_cm", "_m_s", "_m_s2", "_rad_s", "_rpm", "_rcf", "_s", "_min", "_h", "_years", "_deg", "_c", "_kg",
    "_g", "_mg", "_kg_m3", "_g_per_dl", "_pa_s", "_ml", "_fl", "_per_ul", "_per_m3", "_1e9", "_1e9_per_l",
    "_1e12_per_l", "_frac", "_m2", "_m3", "_mm2",
)  # fmt: skip
NO_UNIT = ("_exponent", "_ratio", "_power", "_max", "_min", "_p05", "_p50", "_p95", "_minutes", "_at", "_on")
BARE = {"centre", "fold", "chance", "minutes", "rcf", "rpm", "value", "spread", "low", "high"}
SPEAKING_ROOMS = ("science", "preparation")


def fields_without_a_unit(file: Path) -> list[str]:
    """Return the dataclass fields and arguments annotated ``float`` whose name does not end in a unit."""
    found = []
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        match node:
            case ast.arg(arg=name, annotation=ast.Name(id="float")):
                pass
            case ast.AnnAssign(target=ast.Name(id=name), annotation=ast.Name(id="float")):
                pass
            case _:
                continue
        if name not in BARE and not name.endswith(UNITS + NO_UNIT):
            found.append(f"{file.name}:{node.lineno} {name}")
    return found


def test_a_number_ends_in_its_unit(root: Path) -> None:
    found = []
    for room in SPEAKING_ROOMS:
        for file in sorted((root / "src/plasmawright" / room).rglob("*.py")):
            found += fields_without_a_unit(file)
    assert found == []
