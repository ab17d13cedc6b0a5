"""A SET.json: joint draws of parameters, as another command wrote them."""

import json
from collections.abc import Mapping
from pathlib import Path

from plasmawright.errors import Refusal, shown
from plasmawright.exchange.file import read_bytes

# 4,096 draws of every row of the tables take about 5 MB.
BYTES_MAX = 20_000_000


def read_parameter_set(path: Path) -> Mapping[str, object]:
    """Read the object of a SET.json; what it says is checked where it is used.

    Raises
    ------
    Refusal
        If the file cannot be read, is not JSON, or holds something else than one object.
    """
    name = shown(path.name or path)
    remedy = "Use a set that was written by `learn`."
    try:
        document: object = json.loads(read_bytes(path, bytes_max=BYTES_MAX))
    except (ValueError, RecursionError) as fault:
        raise Refusal(name, f"not JSON ({shown(fault)})", "it must be a parameter set", remedy) from fault
    if not isinstance(document, dict):
        raise Refusal(name, "not an object", "it must be a parameter set", remedy)
    return document
