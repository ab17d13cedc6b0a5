"""Under which names and addresses other machines reach this one."""

import ipaddress
import socket
from contextlib import suppress

EVERY_ADDRESS = ("0.0.0.0", "::")  # noqa: S104 - compared with, not listened on
# Addresses kept free for examples. Naming one as the peer of a datagram socket chooses a way out and sends nothing.
ASKED_ABOUT = ((socket.AF_INET, "192.0.2.1"), (socket.AF_INET6, "2001:db8::1"))
LOOPBACK = ("127.0.0.1", "::1", "localhost")


def is_loopback(host: str) -> bool:
    """Return whether only this machine reaches what listens on ``host``."""
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"


def own_names(host: str) -> tuple[str, ...]:
    """Return the names and addresses that lead to what listens on ``host``, this machine's own way of saying it last.

    For an address of every network these are the host's name, that name as networks without a name server know it,
    and the addresses in use now; for one address it is that one.
    """
    if host not in EVERY_ADDRESS:
        found = [host]
    else:
        own = socket.gethostname()
        found = [*_own_addresses(own), own, *([] if "." in own else [f"{own}.local"])]
    return tuple(dict.fromkeys((*found, *LOOPBACK)))


def seen_from_outside(host: str) -> str:
    """Return the name that another machine types to reach what listens on ``host``."""
    return own_names(host)[0]


def _own_addresses(own: str) -> list[str]:
    """Return the addresses of this machine, the one that leads out first, loopback left out."""
    found = [address for family, peer in ASKED_ABOUT if (address := _address_towards(family, peer))]
    with suppress(socket.gaierror):  # a machine that does not know its own name still has addresses
        found += sorted({str(entry[4][0]) for entry in socket.getaddrinfo(own, None)})
    plain = (address for address in dict.fromkeys(found) if "%" not in address)
    return [address for address in plain if not ipaddress.ip_address(address).is_loopback]


def _address_towards(family: socket.AddressFamily, peer: str) -> str | None:
    with socket.socket(family, socket.SOCK_DGRAM) as asking:
        try:
            asking.connect((peer, 9))
        except OSError:
            return None
        return str(asking.getsockname()[0])
