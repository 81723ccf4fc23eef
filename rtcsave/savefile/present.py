"""What a save's clock shows now, and when its counter overflows, as far as its stamp can say."""

from __future__ import annotations

from rtcsave.clocks import Clock
from rtcsave.savefile.save import SaveFile


def clock_now(save: SaveFile, now_s: int) -> tuple[Clock, int] | None:
    """The running clock advanced from its usable stamp to now, and by how many seconds.

    None where the stamp cannot say (absent, no date, or later than now), or the words of the clock
    say what no clock can hold.
    """
    block = save.block
    if block is None or block.usable_unix_s is None or not block.tells_time:
        return None
    passed_s = now_s - block.usable_unix_s
    if passed_s < 0:
        return None
    passed_s -= passed_s % block.running.resolution_s
    return block.running.advance(passed_s), passed_s


def overflow_at(save: SaveFile, now_s: int) -> int | None:
    """The Unix second at which the counter next overflows; None if never, or nobody can say."""
    counted = clock_now(save, now_s)
    if counted is None or counted[0].seconds_to_overflow is None:
        return None
    block = save.clock_block
    assert block.saved_unix_s is not None
    return block.saved_unix_s + counted[1] + counted[0].seconds_to_overflow
