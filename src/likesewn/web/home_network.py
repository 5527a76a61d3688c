"""The machine's own addresses on the home network, found without sending anything."""

import ipaddress
import socket
import struct
import sys
from collections.abc import Iterator
from contextlib import suppress

__all__ = ["home_addresses"]

_ELSEWHERE = ("192.0.2.1", 9)
"""An address for documentation (RFC 5737). Connecting a datagram socket to it sends nothing; it only asks
which way that would go."""

_GET_ADDRESS = 0x8915  # SIOCGIFADDR, linux/sockios.h


def home_addresses() -> tuple[str, ...]:
    """Return the IPv4 addresses by which others on the home network reach this machine, likeliest first."""
    found = [address for address in (*_on_the_way_out(), *_on_interfaces()) if _is_home(address)]
    return tuple(dict.fromkeys(found))


def _is_home(address: str) -> bool:
    parsed = ipaddress.IPv4Address(address)
    return parsed.is_private and not (
        parsed.is_loopback or parsed.is_link_local or parsed.is_unspecified or parsed.is_reserved
    )


def _on_the_way_out() -> Iterator[str]:
    with suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as way:
        way.connect(_ELSEWHERE)
        yield way.getsockname()[0]


def _on_interfaces() -> Iterator[str]:
    """Yield the address of each interface, where the system tells; without a way out there may be one."""
    if sys.platform != "linux":
        return
    import fcntl  # noqa: PLC0415

    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as any_socket:
        for _, name in socket.if_nameindex():
            with suppress(OSError):  # one that has no address
                asked = struct.pack("256s", name.encode()[:15])
                told = fcntl.ioctl(any_socket.fileno(), _GET_ADDRESS, asked)
                yield socket.inet_ntoa(told[20:24])
