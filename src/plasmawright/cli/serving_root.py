"""A tiny listener in plain http for tablets that do not trust us yet: the root certificate and the steps."""

import socket
import threading
from collections.abc import Mapping
from dataclasses import dataclass
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

from plasmawright.records.certificates import Root

ASKS_WITHIN_S = 10
CERTIFICATE_TYPE = "application/x-x509-ca-cert"


@dataclass(frozen=True, kw_only=True)
class Offer:
    """One thing that is given out."""

    kind: str
    body: bytes


def offers_of(root: Root, page: str) -> dict[str, Offer]:
    """Return what is given out, by its address."""
    steps = Offer(kind="text/html; charset=utf-8", body=page.encode())
    return {
        "/": steps,
        "/install/": steps,
        "/install/plasmawright-root.crt": Offer(kind=CERTIFICATE_TYPE, body=root.pem),
        "/install/plasmawright-root.der": Offer(kind=CERTIFICATE_TYPE, body=root.der),
    }


def give_out(host: str, port: int, offers: Mapping[str, Offer]) -> None:
    """Answer in the background for as long as this process lives."""

    class Handler(BaseHTTPRequestHandler):
        """Gives out what is offered and nothing else."""

        timeout = ASKS_WITHIN_S

        def do_GET(self) -> None:
            """Answer one request."""
            offer = offers.get(self.path)
            if offer is None:
                self.send_error(HTTPStatus.NOT_FOUND)
                return
            self.send_response(HTTPStatus.OK)
            self.send_header("Content-Type", offer.kind)
            self.send_header("Content-Length", str(len(offer.body)))
            self.send_header("Content-Security-Policy", "default-src 'none'; frame-ancestors 'none'")
            self.send_header("X-Content-Type-Options", "nosniff")
            self.end_headers()
            self.wfile.write(offer.body)

        def log_message(self, format: str, *arguments: object) -> None:  # noqa: A002 - its name in the parent
            """Keep silent: who asked is nobody's business."""

    class Listener(ThreadingHTTPServer):
        """A listener for either kind of address."""

        address_family = socket.AF_INET6 if ":" in host else socket.AF_INET
        daemon_threads = True

        def handle_error(self, request: object, client_address: object) -> None:
            """Let a caller that went away go."""

    threading.Thread(target=Listener((host, port), Handler).serve_forever, daemon=True).start()
