"""What this machine is called on the networks that it is connected to, asked of the system itself."""

import contextlib
import ipaddress
import socket
import struct
import sys
import threading
import time
from dataclasses import dataclass
from ipaddress import IPv4Address, IPv6Address

Ip = IPv4Address | IPv6Address

# Suffixes that no registry hands out: RFC 6762 (local), RFC 8375 (home.arpa), ICANN 2024 (internal), and lan and
# home, which home routers give to their own networks (common practice).
LOCAL_SUFFIXES = ("local", "lan", "home", "home.arpa", "internal")
# Networks that only this machine sees: bridges of containers and virtual machines (common practice).
INNER_INTERFACES = ("lo", "docker", "br-", "veth", "virbr", "vmnet", "lxc", "podman", "cni")
SIOCGIFADDR = 0x8915  # netdevice(7)
# Sending nothing, a datagram socket tells from which address it would send; these lie in no real network (RFC 5737,
# RFC 3849) or in those that hotspots commonly have.
TOWARDS = ("192.0.2.1", "192.168.0.1", "192.168.1.1", "192.168.137.1", "10.42.0.1", "10.0.0.1", "172.16.0.1")
TOWARDS_6 = "2001:db8::1"
EVERY_IP4, EVERY_IP = "0.0.0.0", "::"  # noqa: S104 - what a server may be told to listen on
HTTP_PORT = 80
KEPT_SECONDS = 30.0
LOOK_UP_SECONDS = 1.0

PRIVATE = tuple(
    ipaddress.ip_network(network)
    for network in (
        "10.0.0.0/8",  # RFC 1918
        "172.16.0.0/12",
        "192.168.0.0/16",
        "169.254.0.0/16",  # RFC 3927
        "fc00::/7",  # RFC 4193
        "fe80::/10",  # RFC 4291
    )
)


def is_private(ip: Ip) -> bool:
    """Return whether an address belongs to a network of one's own: loopback, private or link-local."""
    mapped = ip.ipv4_mapped if isinstance(ip, IPv6Address) else None
    ip = mapped or ip
    return ip.is_loopback or any(ip in network for network in PRIVATE if network.version == ip.version)


def is_loopback(host: str) -> bool:
    """Return whether a name or number leads every machine to itself."""
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def is_known_here_alone(host: str) -> bool:
    """Return whether a name or number means this machine on its own network alone, as far as can be told from it."""
    try:
        return is_private(ipaddress.ip_address(host))
    except ValueError:
        return "." not in host or host.endswith(tuple(f".{suffix}" for suffix in LOCAL_SUFFIXES))


@dataclass
class _Kept:
    """What was found last, and until when it is good."""

    addresses: tuple[Ip, ...] = ()
    names: tuple[str, ...] = ()
    addresses_until: float = 0.0
    names_until: float = 0.0


_kept = _Kept()


def own_addresses() -> tuple[Ip, ...]:
    """Return the addresses of this machine that others may reach, IPv4 first; looked up at most every half minute."""
    if time.monotonic() >= _kept.addresses_until:
        _kept.addresses = _look_for_addresses()
        _kept.addresses_until = time.monotonic() + KEPT_SECONDS
    return _kept.addresses


def possible_names() -> tuple[str, ...]:
    """Return the names that a network of one's own may give this machine, without asking one."""
    name = socket.gethostname().lower().rstrip(".")
    short = name.partition(".")[0]
    return tuple(dict.fromkeys((short, *(f"{short}.{suffix}" for suffix in LOCAL_SUFFIXES), name)))


def working_names() -> tuple[str, ...]:
    """Return those of the possible names that lead to an address of this machine here and now.

    Names are looked up aside and for a second at most, since a network without a name server keeps one waiting.
    """
    if time.monotonic() >= _kept.names_until:
        addresses, found = {str(ip) for ip in own_addresses()}, dict[str, set[str]]()

        def look_up(name: str) -> None:
            found[name] = _addresses_of(name)

        # Threads that nobody waits for at the end of the program either.
        threads = [threading.Thread(target=look_up, args=[name], daemon=True) for name in possible_names()]
        for thread in threads:
            thread.start()
        end = time.monotonic() + LOOK_UP_SECONDS
        for thread in threads:
            thread.join(max(0.0, end - time.monotonic()))
        _kept.names = tuple(name for name in possible_names() if found.get(name, set()) & addresses)
        _kept.names_until = time.monotonic() + KEPT_SECONDS
    return _kept.names


def working_addresses(host: str, port: int) -> tuple[str, ...]:
    """Return the addresses under which a server of this machine answers others now, names first.

    Args:
        host: What the server listens on: an address of this machine, or 0.0.0.0 or :: for all.
        port: Its port.
    """
    numbers = {str(ip): f"[{ip}]" if ip.version == 6 else str(ip) for ip in own_addresses()}  # noqa: PLR2004 - IPv6
    if host == EVERY_IP4:
        numbers = {text: shown for text, shown in numbers.items() if ":" not in text}
    elif host != EVERY_IP:
        return () if is_loopback(host) else (address_of(numbers.get(host, host), port),)
    return tuple(address_of(shown, port) for shown in (*working_names(), *numbers.values()))


def address_of(host: str, port: int) -> str:
    """Return the address of a host without TLS; port 80 goes without saying."""
    return f"http://{host}" if port == HTTP_PORT else f"http://{host}:{port}"


def _addresses_of(name: str) -> set[str]:
    try:
        return {str(entry[4][0]) for entry in socket.getaddrinfo(name, None)}
    except (OSError, UnicodeError):
        return set()


def _look_for_addresses() -> tuple[Ip, ...]:
    texts = [*_by_interface(), *_by_sending(), *sorted(_addresses_of(socket.gethostname()))]
    found: dict[Ip, None] = {}
    for text in texts:
        with contextlib.suppress(ValueError):  # an address with the name of its interface
            ip = ipaddress.ip_address(text)
            if not (ip.is_loopback or ip.is_unspecified or (ip.version == 6 and ip.is_link_local)):  # noqa: PLR2004 - IPv6
                found[ip] = None
    return tuple(sorted(found, key=lambda ip: ip.version))


def _by_interface() -> list[str]:
    """Return the IPv4 address of each interface that leads out of the machine; on Linux alone."""
    if sys.platform != "linux":
        return []
    import fcntl  # noqa: PLC0415 - there is none on Windows

    found = []
    with contextlib.suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asked:
        for _index, name in socket.if_nameindex():
            if not name.startswith(INNER_INTERFACES):
                with contextlib.suppress(OSError):  # it has none
                    row = fcntl.ioctl(asked.fileno(), SIOCGIFADDR, struct.pack("256s", name.encode()[:15]))
                    found.append(socket.inet_ntoa(row[20:24]))
    return found


def _by_sending() -> list[str]:
    """Return the addresses from which this machine would send to networks of the usual kinds."""
    found = []
    for family, towards in (*((socket.AF_INET, ip) for ip in TOWARDS), (socket.AF_INET6, TOWARDS_6)):
        with contextlib.suppress(OSError), socket.socket(family, socket.SOCK_DGRAM) as probe:
            probe.connect((towards, 9))
            found.append(str(probe.getsockname()[0]))
    return found
