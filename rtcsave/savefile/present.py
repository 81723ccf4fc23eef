"""What the clock of a block shows now, and when its counter overflows, as far as its stamp can say."""

from __future__ import annotations

from rtcsave.clocks import Clock
from rtcsave.layouts import ClockBlock


def clock_now(block: ClockBlock | None, now_s: int) -> tuple[Clock, int] | None:
    """The running clock advanced from its usable stamp to now, and by how many seconds.

    None without a block, where the stamp cannot say (absent, no date, or later than now), or where the
    words of the clock say what no clock can hold.
    """
    if block is None or block.usable_unix_s is None or not block.tells_time:
        return None
    passed_s = now_s - block.usable_unix_s
    if passed_s < 0:
        return None
    passed_s -= passed_s % block.running.resolution_s
    return block.running.advance(passed_s), passed_s


def overflow_at(block: ClockBlock | None, now_s: int) -> int | None:
    """The Unix second at which the counter next overflows; None if never or unknown."""
    counted = clock_now(block, now_s)
    if block is None or counted is None or counted[0].seconds_to_overflow is None:
        return None
    assert block.saved_unix_s is not None
    return block.saved_unix_s + counted[1] + counted[0].seconds_to_overflow
