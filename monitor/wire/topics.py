"""MQTT topic names: what nodes write, what they read, and what the service tells the house.

Nodes write `nightstoke/<kiln>/<node>/scan` and read `nightstoke/<kiln>/<node>/alive`. The service's own words stand
under the node name `host`, which no node may have, so that no node's topic can collide with them.
"""

import re
from typing import Final

from monitor.wire.fields import HOST_NODE

ROOT: Final = "nightstoke"
_NODE = re.compile(r"[A-Za-z0-9][A-Za-z0-9\-:._]*")  # a name of RFC 8428 section 4.5.1 without a slash


def scan_topic(kiln: str, node: str) -> str:
    """Return where `node` publishes its packs."""
    return f"{ROOT}/{kiln}/{node}/scan"


def scan_filter(kiln: str) -> str:
    """Return the subscription that matches the packs of every node of `kiln`."""
    return f"{ROOT}/{kiln}/+/scan"


def alive_topic(kiln: str, node: str) -> str:
    """Return where the host publishes the heartbeat for `node`."""
    return f"{ROOT}/{kiln}/{node}/alive"


def scanning_node(topic: str, kiln: str) -> str | None:
    """Return the node whose pack comes on `topic`, None if it is no scan topic of `kiln`."""
    node = topic.removeprefix(f"{ROOT}/{kiln}/").removesuffix("/scan")
    if topic != scan_topic(kiln, node) or node == HOST_NODE or not _NODE.fullmatch(node):
        return None
    return node


def status_topic(kiln: str) -> str:
    """Return where "online" or, by last will, "offline" stands, retained."""
    return f"{ROOT}/{kiln}/{HOST_NODE}/status"


def state_topic(kiln: str) -> str:
    """Return where the newest state of the whole kiln stands, retained."""
    return f"{ROOT}/{kiln}/{HOST_NODE}/state"


def temperature_topic(kiln: str, sensor: str) -> str:
    """Return where the newest temperature of `sensor` stands, retained."""
    return f"{ROOT}/{kiln}/{HOST_NODE}/temperature/{sensor}"


def finding_topic(kiln: str) -> str:
    """Return where each finding is told once, as it becomes known."""
    return f"{ROOT}/{kiln}/{HOST_NODE}/finding"


def alarm_topic(kiln: str) -> str:
    """Return where each change of an alarm is told once, as it happens."""
    return f"{ROOT}/{kiln}/{HOST_NODE}/alarm"
