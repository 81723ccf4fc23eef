"""The clocks as pure values: registers, counting, nothing of files or of instants."""

from rtcsave.clocks.calendar import CalendarClock
from rtcsave.clocks.counter import CounterClock
from rtcsave.clocks.minutes import MinuteClock
from rtcsave.clocks.shape import Bits, Clock, ClockField, Register

__all__ = [
    "Bits",
    "CalendarClock",
    "Clock",
    "ClockField",
    "CounterClock",
    "MinuteClock",
    "Register",
]
