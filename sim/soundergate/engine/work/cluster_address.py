"""What an address of a scheduler looks like; whether anybody answers there, `cluster` finds out."""

from __future__ import annotations

import re

from soundergate.scenario.errors import ScenarioError

SUCH_AS = "wanted the address of a Dask scheduler, such as tcp://10.0.0.5:8786"
_PROTOCOLS = ("tcp", "tls")
"""Dask knows others, such as for workers inside this very process; it judges their addresses."""
_FORM = re.compile(r"(?P<host>\[[0-9a-fA-F:.%\w]+\]|[^\s:/\[\]]+):(?P<port>\d{1,5})/?")


def check_address(address: str) -> None:
    """Raises ScenarioError unless it is HOST:PORT, with or without a protocol before it."""
    protocol, found, rest = address.partition("://")
    if found and protocol not in _PROTOCOLS:
        return
    form = _FORM.fullmatch(rest if found else address)
    # ports of TCP have sixteen bits (RFC 9293, section 3.1)
    if form is None or not 1 <= int(form["port"]) < 1 << 16:
        raise ScenarioError(f"no cluster can be at {address!r}: it is no HOST:PORT", hint=SUCH_AS)
