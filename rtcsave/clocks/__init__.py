"""The clocks as pure values: registers, counting, nothing of files or of instants."""

from rtcsave.clocks.calendar import CalendarClock
from rtcsave.clocks.clock import Clock
from rtcsave.clocks.counter import CounterClock
from rtcsave.clocks.fields import Bits, ClockField, OutOfRange, Register
from rtcsave.clocks.minutes import MinuteClock

__all__ = [
    "Bits",
    "CalendarClock",
    "Clock",
    "ClockField",
    "CounterClock",
    "MinuteClock",
    "OutOfRange",
    "Register",
]
