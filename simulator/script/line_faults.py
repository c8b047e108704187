"""What can be wrong with a node and its line, as far as a sender can cause it; a spell says when and how much."""

from enum import StrEnum


class LineFault(StrEnum):
    """A fault of the node or between it and the host; the meaning of a spell's `size` stands beside each."""

    RESET = "reset"  # at the begin the node starts anew: new boot, numbers from 0, back after seconds; no size
    HANG = "hang"  # no scans are taken, then the watchdog starts the node anew; no size
    FORGETS = "forgets"  # nothing is kept to be sent again: what is lost stays lost; no size
    CLOCKLESS = "clockless"  # times are relative to the sending and `up` is told; no size
    WRONG_CLOCK = "wrong-clock"  # the node's clock is `size` days ahead, below 0 behind
    TICKS_WRAP = "ticks-wrap"  # clockless; `up` passes 2**30 ms halfway: `size` 0 goes on, 1 starts again from 0
    OUTAGE = "outage"  # nothing passes, neither way; what was kept comes late afterwards; no size
    REPLUG = "replug"  # an outage for which a serial port goes away and comes back under another name; no size
    LOSS = "loss"  # the share `size` of the packs is lost
    HOLES = "holes"  # every ten minutes all packs of `size` seconds are lost
    TWICE = "twice"  # each pack comes twice; no size
    REPLAY = "replay"  # at the begin the newest `size` packs come again
    SHUFFLE = "shuffle"  # each pack is held up by anything up to `size` seconds
    DELAY = "delay"  # each pack is held up by `size` hours
    GARBAGE = "garbage"  # `size` bursts of bytes a minute that are no line; the first is a megabyte without an end
    ABSURD = "absurd"  # `size` packs a minute of good form and impossible content
    TWIN = "twin"  # over MQTT a second client has the node's id and takes the connection; no size
    RETAINS = "retains"  # over MQTT packs are marked to be retained, so that later readers get an old one; no size
