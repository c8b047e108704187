"""Topic names of the contract and of the service."""

import pytest

from monitor.wire import topics


@pytest.mark.parametrize(
    ("name", "topic"),
    [
        (topics.scan_topic("demo-kiln", "shed-1"), "nightstoke/demo-kiln/shed-1/scan"),
        (topics.scan_filter("demo-kiln"), "nightstoke/demo-kiln/+/scan"),
        (topics.alive_topic("demo-kiln", "shed-1"), "nightstoke/demo-kiln/shed-1/alive"),
        (topics.status_topic("demo-kiln"), "nightstoke/demo-kiln/host/status"),
        (topics.state_topic("demo-kiln"), "nightstoke/demo-kiln/host/state"),
        (topics.temperature_topic("demo-kiln", "firebox"), "nightstoke/demo-kiln/host/temperature/firebox"),
        (topics.finding_topic("demo-kiln"), "nightstoke/demo-kiln/host/finding"),
        (topics.alarm_topic("demo-kiln"), "nightstoke/demo-kiln/host/alarm"),
    ],
)
def test_topic_has_its_name(name: str, topic: str) -> None:
    """Names are what nodes and houses are told to use."""
    assert name == topic


def test_scan_topic_names_its_node() -> None:
    """The node of a scan topic is read back."""
    assert topics.scanning_node(topics.scan_topic("demo-kiln", "shed-1"), "demo-kiln") == "shed-1"


@pytest.mark.parametrize(
    "topic",
    [
        "nightstoke/other/shed-1/scan",
        "nightstoke/demo-kiln/shed-1/alive",
        "nightstoke/demo-kiln/a/b/scan",
        "nightstoke/demo-kiln//scan",
        "nightstoke/demo-kiln/host/scan",
        "nightstoke/demo-kiln/-x/scan",
        "scan",
    ],
)
def test_other_topics_name_no_node(topic: str) -> None:
    """Another kiln's, another word's and the host's own topics are no node's scans."""
    assert topics.scanning_node(topic, "demo-kiln") is None
