"""The lines of the serial link: SenML packs out (RFC 8428), the host's heartbeat in.

A pack is JSON text on one line, a space, the CRC-32 of its bytes (ISO-HDLC, as in zlib) in eight lower-case hex digits,
a newline. Times are relative, since the node has no clock: a scan sent as it is taken has no time (it is now), one sent
again has its age as a negative base time, and `up` says when it was taken in the node's own time.
"""

import binascii

from converter import COLD_JUNCTION_SHIFT, EMF_NUMERATOR, FAULTS, NO_COLD_JUNCTION, TROUBLES, VALUE
from exact import fraction_text, seconds_text

REST = ("rest", None, 0)
_LONGEST_NUMBER = 16  # a seq is at most 2**53 - 1


def pack_text(node, boot, inputs, scan, oldest, age_ms=None):
    """Write one scan as a SenML pack.

    Args:
        node: name of the node.
        boot: random text of this start of the node.
        inputs: (label, shift) per input, in the order of the scan's readings.
        scan: (seq, up_ms, readings).
        oldest: lowest seq that can still be sent.
        age_ms: how long ago the scan was taken, when it is sent again.
    """
    seq, up_ms, readings = scan
    records = []
    for place, (label, shift) in enumerate(inputs):
        records.extend(_reading_records(label, shift, readings[place]))
    records.append('"n":"boot","vs":"%s"' % boot)
    records.append('"n":"seq","u":"count","v":%d' % seq)
    records.append('"n":"oldest","u":"count","v":%d' % oldest)
    records.append('"n":"up","u":"s","v":%s' % seconds_text(up_ms))
    base = '"bn":"%s/",' % node
    if age_ms is not None:
        base += '"bt":%s,' % seconds_text(-age_ms)
    return "[{" + base + "},{".join(records) + "}]"


def _reading_records(label, shift, reading):
    """Write the records of one input: emf or fault, cold junction where known, or the converter's trouble."""
    kind, emf, cold = reading
    records = []
    if kind == VALUE:
        volts = fraction_text(emf * EMF_NUMERATOR, shift)
        records.append('"n":"%s/emf","u":"V","v":%s' % (label, volts))
    elif kind in FAULTS:
        records.append('"n":"%s/fault","vs":"%s"' % (label, FAULTS[kind]))
    else:
        records.append('"n":"%s/converter","vs":"%s"' % (label, TROUBLES[kind]))
    if cold != NO_COLD_JUNCTION:
        records.append('"n":"%s/cj","u":"Cel","v":%s' % (label, fraction_text(cold, COLD_JUNCTION_SHIFT)))
    return records


def sealed(text):
    """Return the pack as the bytes of a whole line, with its checksum."""
    packed = text.encode()
    return packed + b" %08x\n" % (binascii.crc32(packed) & 0xFFFFFFFF)


def parse_heartbeat(heard):
    """Read one line from the host.

    Returns:
        ("alive", boot or None, seq), `REST`, or None for anything else.
    """
    words = heard.split(b" ")
    if words == [b"rest"]:
        return REST
    if len(words) != 3 or words[0] != b"alive" or not words[1]:
        return None
    if not words[2].isdigit() or len(words[2]) > _LONGEST_NUMBER:
        return None
    boot = None if words[1] == b"-" else words[1]
    return "alive", boot, int(words[2])
