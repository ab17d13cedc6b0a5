"""The web process that `serve` and `demo` keep running: ``serving_web HOST PORT http|https``."""

import os
import sys
from collections.abc import Callable
from importlib import import_module
from typing import Any

from plasmawright.cli.supervisor_child import end_with_the_supervisor
from plasmawright.records.certificates import kept_leaf
from plasmawright.records.own_addresses import own_names

HTTPS_VARIABLE = "PLASMAWRIGHT_HTTPS"
APPLICATION = "plasmawright.config.wsgi:application"


def run(host: str, port: int, scheme: str) -> None:
    """Serve the pages until a signal stops them."""
    from granian import Granian
    from granian.constants import Interfaces, SSLProtocols

    leaf = kept_leaf() if scheme == "https" else None
    os.environ[HTTPS_VARIABLE] = "1" if leaf else ""
    os.environ["PLASMAWRIGHT_HOSTS"] = ",".join(_allowed_names(host))
    Granian(
        APPLICATION,
        address=host,
        port=port,
        interface=Interfaces.WSGI,
        workers=1,
        blocking_threads=4,
        websockets=False,
        log_enabled=False,
        ssl_cert=leaf.file if leaf else None,
        ssl_key=leaf.file if leaf else None,
        ssl_protocol_min=SSLProtocols.tls12,  # tablets of some age know no later one
    ).serve(target_loader=_load)


def _load(target: str) -> Callable[..., Any]:  # Any: what a WSGI application takes is the server's business
    """Load the application in the process that answers, which was forked and has no watching thread yet."""
    end_with_the_supervisor()
    module, _, name = target.partition(":")
    found: Callable[..., Any] = getattr(import_module(module), name)
    return found


def _allowed_names(host: str) -> list[str]:
    """Return the names under which a browser may address us: those set by a person, and our own."""
    set_by_hand = [name for name in os.environ.get("PLASMAWRIGHT_HOSTS", "").split(",") if name]
    return [*set_by_hand, *(f"[{name}]" if ":" in name else name for name in own_names(host))]


if __name__ == "__main__":
    run(sys.argv[1], int(sys.argv[2]), sys.argv[3])
