"""The chip of a save's clock, whatever kind it is of."""

from __future__ import annotations

from typing import Final

from rtcsave.chips.calendar_chip import CalendarChip
from rtcsave.chips.chip import check_block
from rtcsave.chips.counter_chip import CounterChip
from rtcsave.chips.minute_chip import MinuteChip
from rtcsave.layouts import ClockBlock
from rtcsave.when import Instant

AnyChip = CounterChip | MinuteChip | CalendarChip
_CHIPS: Final[dict[str, type[AnyChip]]] = {
    chip.kind: chip for chip in (CounterChip, MinuteChip, CalendarChip)
}


def chip_of(block: ClockBlock, *, at: Instant | None = None) -> AnyChip:
    """The chip that holds a save's clock, of the kind that the block holds; `at` as for `from_block`."""
    return _CHIPS[check_block(block).layout.clock].from_block(block, at=at)
