"""The clocks as pure values: registers, counting, nothing of files or of instants."""

from rtcsave.clocks.counter import CounterClock
from rtcsave.clocks.shape import Bits, Clock, ClockField, Register

__all__ = ["Bits", "Clock", "ClockField", "CounterClock", "Register"]
