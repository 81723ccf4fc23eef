"""The clocks as seen on a bus (latch, halt, divider), and register accesses as data."""

from rtcsave.chips.accesses import Step
from rtcsave.chips.calendar_chip import CalendarChip
from rtcsave.chips.counter_chip import CounterChip
from rtcsave.chips.minute_chip import MinuteChip
from rtcsave.chips.sequences import Sequence, clock_read, sequence_to_read, sequence_to_write

__all__ = [
    "CalendarChip",
    "CounterChip",
    "MinuteChip",
    "Sequence",
    "Step",
    "clock_read",
    "sequence_to_read",
    "sequence_to_write",
]
