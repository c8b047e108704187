"""The memory of unreported scans and the rule for sending them again."""

from ring import HOST_IS_HERE_MS, STANDS_STILL_MS, Resend, Ring

READINGS = [(0, -131071, -2560), (1, 0, -32768)]


def filled(capacity, count):
    """Return a ring after so many scans, one a second."""
    ring = Ring(capacity, 2)
    for number in range(count):
        ring.keep(1000 * number, [(0, number, 1), (0, -number, 2)])
    return ring


def test_a_scan_comes_back_as_it_was_kept():
    """Signed codes of full width and an uptime beyond 32 bits survive the packing."""
    ring = Ring(3, 2)

    assert ring.keep(2**40, READINGS) == 1
    assert ring.scan(1) == (1, 2**40, READINGS)


def test_numbers_start_at_one_and_grow_by_one():
    """They are the seq of the wire."""
    ring = Ring(3, 2)

    assert [ring.keep(0, READINGS) for _ in range(5)] == [1, 2, 3, 4, 5]
    assert ring.newest == 5


def test_the_oldest_falls_out_when_the_ring_is_full():
    """The lowest number that can be sent moves up and every kept scan is whole."""
    ring = filled(3, 5)

    assert ring.oldest() == 3
    assert [ring.scan(seq) for seq in (3, 4, 5)] == [
        (seq, 1000 * (seq - 1), [(0, seq - 1, 1), (0, 1 - seq, 2)]) for seq in (3, 4, 5)
    ]


def test_a_report_frees_what_is_committed():
    """Then the oldest is the first unreported one; one above the newest when nothing is left."""
    ring = filled(10, 5)

    assert ring.report(3)
    assert ring.oldest() == 4
    assert ring.report(5)
    assert ring.oldest() == 6


def test_a_report_that_is_no_news_changes_nothing():
    """A repeated number, a lower one and one that was never sent."""
    ring = filled(10, 5)
    ring.report(3)

    assert [ring.report(seq) for seq in (3, 2, 0, 6)] == [False] * 4
    assert ring.oldest() == 4


def test_a_full_memory_is_sent_again_though_the_number_follows_what_it_lost():
    """After an outage longer than the memory the host passes over what is gone: no progress, and no reason to wait."""
    ring = filled(100, 500)
    resend = Resend(ring, 500_000)
    sent = []
    for now_ms in range(500_000, 530_000, 1000):
        lost_below = ring.oldest()
        ring.keep(now_ms, READINGS)
        resend.heard(boot_is_ours=True, seq=lost_below - 1, now_ms=now_ms)
        sent += resend.due(now_ms, 8)

    assert sent[:8] == list(range(412, 420))


def test_nothing_is_sent_again_while_the_number_moves():
    """A host that commits every few seconds gets each scan once."""
    ring, now_ms = filled(100, 1), 0
    resend = Resend(ring, now_ms)
    for _ in range(60):
        now_ms += 1000
        seq = ring.keep(now_ms, READINGS)
        if seq % 5 == 0:
            resend.heard(boot_is_ours=True, seq=seq, now_ms=now_ms)

        assert list(resend.due(now_ms, 8)) == []


def test_a_number_that_stands_still_for_10_s_starts_it_again_from_the_first_unreported():
    """Not a moment before 10 s, in batches, up to the newest scan of that moment, and then not for another 10 s."""
    ring = filled(100, 20)
    resend = Resend(ring, 0)
    resend.heard(boot_is_ours=True, seq=5, now_ms=1000)
    resend.heard(boot_is_ours=True, seq=5, now_ms=9000)

    assert list(resend.due(1000 + STANDS_STILL_MS - 1, 8)) == []
    assert list(resend.due(1000 + STANDS_STILL_MS, 8)) == list(range(6, 14))
    ring.keep(21000, READINGS)
    assert list(resend.due(12000, 8)) == list(range(14, 21))
    assert list(resend.due(12500, 8)) == []
    resend.heard(boot_is_ours=True, seq=5, now_ms=15000)
    assert list(resend.due(12000 + STANDS_STILL_MS - 1, 8)) == []
    assert list(resend.due(12000 + STANDS_STILL_MS, 8)) == list(range(6, 14))


def test_a_report_during_sending_skips_what_is_committed():
    """The host has caught up to 15 while 6 to 13 went out."""
    ring = filled(100, 20)
    resend = Resend(ring, 0)
    resend.heard(boot_is_ours=True, seq=5, now_ms=1)
    first = list(resend.due(1 + STANDS_STILL_MS, 8))
    resend.heard(boot_is_ours=True, seq=15, now_ms=2 + STANDS_STILL_MS)

    assert first == list(range(6, 14))
    assert list(resend.due(3 + STANDS_STILL_MS, 8)) == [16, 17, 18, 19, 20]


def test_a_report_of_everything_during_sending_ends_it():
    """Nothing is left to send, and nothing is made up."""
    ring = filled(100, 20)
    resend = Resend(ring, 0)
    resend.heard(boot_is_ours=True, seq=5, now_ms=1)
    resend.due(1 + STANDS_STILL_MS, 8)
    resend.heard(boot_is_ours=True, seq=20, now_ms=2 + STANDS_STILL_MS)

    assert list(resend.due(3 + STANDS_STILL_MS, 8)) == []
    assert list(resend.due(4 + 2 * STANDS_STILL_MS, 8)) == []


def test_a_host_that_knows_nothing_yet_gets_all_that_is_kept():
    """`alive - 0` reports no number of this boot: the number stands still at 0 since the start."""
    ring = filled(10, 300)
    resend = Resend(ring, 0)
    resend.heard(boot_is_ours=False, seq=0, now_ms=300000)

    assert list(resend.due(300000, 8)) == list(range(291, 299))
    assert list(resend.due(300100, 8)) == [299, 300]


def test_a_number_of_another_boot_reports_nothing():
    """After the node's own reset the host still names the old boot."""
    ring = filled(10, 5)
    resend = Resend(ring, 0)
    resend.heard(boot_is_ours=False, seq=4, now_ms=1)

    assert ring.oldest() == 1
    assert list(resend.due(STANDS_STILL_MS, 8)) == [1, 2, 3, 4, 5]


def test_nobody_listening_gets_nothing_again():
    """Without heartbeats sending again would be in vain; a round that is under way stops too."""
    ring = filled(100, 50)
    resend = Resend(ring, 0)

    assert list(resend.due(10 * STANDS_STILL_MS, 8)) == []
    resend.heard(boot_is_ours=True, seq=0, now_ms=10 * STANDS_STILL_MS)
    assert list(resend.due(10 * STANDS_STILL_MS + 1, 8)) == list(range(1, 9))
    assert list(resend.due(10 * STANDS_STILL_MS + HOST_IS_HERE_MS, 8)) == list(range(9, 17))
    assert list(resend.due(10 * STANDS_STILL_MS + HOST_IS_HERE_MS + 1, 8)) == []


def test_the_ring_overflows_while_it_is_sent_again():
    """What fell out during the round is passed over."""
    ring = filled(20, 20)
    resend = Resend(ring, 0)
    resend.heard(boot_is_ours=True, seq=0, now_ms=1)
    first = list(resend.due(STANDS_STILL_MS, 2))
    for _ in range(10):
        ring.keep(0, READINGS)

    assert first == [1, 2]
    assert list(resend.due(STANDS_STILL_MS + 1, 2)) == [11, 12]
