"""The clocks as seen on a bus (latch, halt, divider), and register accesses as data."""

from rtcsave.chips.accesses import Access
from rtcsave.chips.bus import Bus
from rtcsave.chips.calendar_chip import CalendarChip, CalendarState
from rtcsave.chips.counter_chip import CounterChip, CounterState
from rtcsave.chips.making import AnyChip, chip_of
from rtcsave.chips.minute_chip import MinuteChip, MinuteState
from rtcsave.chips.sequences import AccessSequence, sequence_to_read, sequence_to_write

__all__ = [
    "Access",
    "AccessSequence",
    "AnyChip",
    "Bus",
    "CalendarChip",
    "CalendarState",
    "CounterChip",
    "CounterState",
    "MinuteChip",
    "MinuteState",
    "chip_of",
    "sequence_to_read",
    "sequence_to_write",
]
