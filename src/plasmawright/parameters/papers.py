"""The published experiments that come with the product, as plain keys and values."""

import tomllib
from importlib.resources import files

TRENDS = "trends.toml"
"""The file that holds directions rather than numbers; every other file is one paper's numbers."""


def documents() -> dict[str, dict[str, object]]:
    """Return every paper's document by the name of its file, in the order of the names."""
    folder = files("plasmawright.parameters").joinpath("published")
    names = sorted(entry.name for entry in folder.iterdir() if entry.name.endswith(".toml"))
    return {name: tomllib.loads(folder.joinpath(name).read_text(encoding="utf-8")) for name in names if name != TRENDS}


def trends_document() -> dict[str, object]:
    """Return the document of the published directions."""
    folder = files("plasmawright.parameters").joinpath("published")
    return tomllib.loads(folder.joinpath(TRENDS).read_text(encoding="utf-8"))
