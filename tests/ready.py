"""A process with everything imported, which forks what a test asks for: a server that may be killed, or a look.

Loading Python's modules takes seconds and cannot lose anything; what is killed is a real server of its own process
group, which opens the database anew each time. Started as ``python -m tests.ready``; reads one JSON object a line.
"""

import contextlib
import io
import json
import os
import sys
from collections.abc import Callable
from typing import Any


def load() -> Callable[..., Any]:
    """Return the application as a server would load it, with no thread running. Any: WSGI is the server's business."""
    import django

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "plasmawright.config.settings")
    django.setup()
    from plasmawright.web import warming

    warming.warm_in_background = lambda: None  # a fork would copy the locks of a thread that it does not have
    from django.urls import get_resolver

    from plasmawright.config.wsgi import application

    assert get_resolver().url_patterns, "every page is loaded"
    return application


def serve(application: Callable[..., Any], port: int) -> None:
    """Answer on loopback, as `serve` does, until killed. Any: as above."""
    from granian import Granian
    from granian.constants import Interfaces

    Granian(
        "ready", address="127.0.0.1", port=port, interface=Interfaces.WSGI,
        workers=1, blocking_threads=4, websockets=False, log_enabled=False,
    ).serve(target_loader=lambda _target: application)  # fmt: skip


def look(code: str, arguments: list[str], answer: int) -> None:
    """Run ``code`` and write what it prints, or how it failed, into ``answer``."""
    printed = io.StringIO()
    try:
        with contextlib.redirect_stdout(printed):
            exec(code, {"arguments": arguments})  # noqa: S102 - a test's own words
        told = {"printed": printed.getvalue()}
    except BaseException as failed:  # noqa: BLE001 - the test that asked shall see it
        told = {"failed": repr(failed)}
    with os.fdopen(answer, "w", encoding="utf-8") as writing:
        json.dump(told, writing)


def forked(act: Callable[[], None], *, stays: bool) -> int:
    """Fork a child that does ``act``; one that stays leads a process group of its own."""
    child = os.fork()
    if child == 0:
        with open(os.devnull) as nothing:  # noqa: PTH123 - a descriptor is what is needed
            os.dup2(nothing.fileno(), 0)
        if stays:
            os.setsid()
            os.dup2(2, 1)
        act()
        os._exit(0)
    return child


def answer_one(application: Callable[..., Any], asked: dict[str, Any]) -> dict[str, Any]:
    """Do what is asked. Any: JSON."""
    if asked["do"] == "serve":
        return {"process": forked(lambda: serve(application, asked["port"]), stays=True)}
    if asked["do"] == "bury":
        os.waitpid(asked["process"], 0)
        return {}
    reading, writing = os.pipe()
    child = forked(lambda: look(asked["code"], asked["arguments"], writing), stays=False)
    os.close(writing)
    with os.fdopen(reading, encoding="utf-8") as told:
        found: dict[str, Any] = json.load(told)
    os.waitpid(child, 0)
    return found


def main() -> None:
    """Answer until nobody asks any more."""
    application = load()
    print(json.dumps({}), flush=True)
    for line in sys.stdin:
        print(json.dumps(answer_one(application, json.loads(line))), flush=True)


if __name__ == "__main__":
    main()
