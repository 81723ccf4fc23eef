"""The minute-of-day clock and its mapper: a 4-bit microcontroller and its semaphore protocol.

Pan Docs, chapter on memory bank controllers. What the source is silent on is assumed, and said.
"""

from __future__ import annotations

from typing import ClassVar, Final

from rtcsave.chips.chip import Chip
from rtcsave.chips.divider import (
    TICKS_PER_S,
    Divider,
    byte_of,
    clock_of_kind,
    no_address,
)
from rtcsave.clocks import MinuteClock

ENABLE_END: Final = 0x1FFF
WINDOW_START: Final = 0xA000
WINDOW_END: Final = 0xBFFF
COMMAND: Final = 0x0B
RESPONSE: Final = 0x0C
SEMAPHORE: Final = 0x0D
RUN: Final = 0xFE
READY: Final = 0x01
UNCONNECTED: Final = 0x80
"""Bit 7 of the data bus is not connected: it reads as 1 here (assumed), and is to be ignored."""
OPEN_BUS: Final = 0xFF
"""What a read gives when nothing is mapped: common practice."""

STAGING: Final = 0x00
TIME: Final = 0x10
EVENT: Final = 0x58
_TICKS_PER_MINUTE: Final = 60 * TICKS_PER_S


class MinuteChip(Chip[MinuteClock]):
    """The microcontroller's 256 nibbles, its clock, and the three registers that the bus maps.

    Where in the staging area each digit lies is assumed: 00h to 02h the minute, 03h to 05h the day,
    06h kept. Setting the time is assumed to begin a new minute. `busy_polls` is how often the
    semaphore says that it is not ready after a command (real ones take their time).
    """

    kind: ClassVar[str] = "minutes"
    default_layout: ClassVar[str] = "minutes12"
    _clock_type = MinuteClock

    def __init__(self, clock: MinuteClock | None = None, busy_polls: int = 0) -> None:
        self._nibbles = bytearray(256)
        self._mapped = 0
        self._command = 0
        self._response = 0
        self._address = 0
        self._divider = Divider(_TICKS_PER_MINUTE)
        self._busy_polls = busy_polls
        self._busy_left = 0
        zero = MinuteClock(minute_of_day=0, day_counter=0)
        self._put(zero if clock is None else clock_of_kind(clock, MinuteClock))

    def _put(self, clock: MinuteClock) -> None:
        registers = clock.registers()
        self._nibbles[TIME : TIME + 6] = registers[:6]
        self._nibbles[EVENT : EVENT + 6] = registers[6:]

    @property
    def memory_bank(self) -> int | None:
        """0 where the window shows memory, None where it shows one of the clock's registers."""
        return None if COMMAND <= self._mapped <= SEMAPHORE else 0

    def snapshot(self) -> MinuteClock:
        """The clock as it is now, with its event."""
        held = self._nibbles
        return MinuteClock.from_registers(bytes(held[TIME : TIME + 6] + held[EVENT : EVENT + 6]))

    def run(self, seconds: float | None = None, *, ticks: int | None = None) -> None:
        """Let time pass: `seconds`, or `ticks` of 1/32,768 s."""
        minutes = self._divider.pass_time(seconds, ticks)
        if minutes:
            self._put(self.snapshot().advance(60 * minutes))

    def write(self, address: int, value: int) -> None:
        """A write on the bus; what is not for the clock is passed over."""
        value = byte_of(value)
        if not isinstance(address, int):
            raise no_address(address)
        if 0 <= address <= ENABLE_END:
            self._mapped = value
        elif WINDOW_START <= address <= WINDOW_END:
            if self._mapped == COMMAND:
                self._command = value & 0x7F
            elif self._mapped == SEMAPHORE and value == RUN:
                self._run_command(self._command >> 4, self._command & 0xF)
                self._busy_left = self._busy_polls

    def read(self, address: int) -> int | None:
        """A read on the bus: the mapped register, with bit 7 unconnected.

        None where memory would answer, or the address is not the clock's.
        """
        if not isinstance(address, int):
            raise no_address(address)
        if not WINDOW_START <= address <= WINDOW_END or self.memory_bank is not None:
            return None
        if self._mapped == SEMAPHORE:
            if self._busy_left:
                self._busy_left -= 1
                return UNCONNECTED
            return UNCONNECTED | READY
        if self._mapped == RESPONSE:
            return UNCONNECTED | self._response
        return OPEN_BUS  # the command register is not read: assumed

    def _run_command(self, command: int, argument: int) -> None:
        if command == 1:
            self._response = self._nibbles[self._address]
            self._address = (self._address + 1) & 0xFF
        elif command == 3:
            self._nibbles[self._address] = argument
            self._address = (self._address + 1) & 0xFF
        elif command == 4:
            self._address = self._address & 0xF0 | argument
        elif command == 5:
            self._address = self._address & 0x0F | argument << 4
        elif command == 6:
            self._extended(argument)

    def _extended(self, argument: int) -> None:
        held = self._nibbles
        if argument == 0:
            held[STAGING : STAGING + 6] = held[TIME : TIME + 6]
        elif argument == 1:
            self._set_time(bytes(held[STAGING : STAGING + 6]))
        elif argument == 2:
            self._response = 1

    def _set_time(self, staged: bytes) -> None:
        """Copy the staged time to the current one, keeping the time left to the event."""
        before = self.snapshot()
        after = MinuteClock.from_registers(staged + before.registers()[6:])
        event = MinuteClock(minute_of_day=before.event_minutes, day_counter=before.event_days)
        if before.in_range and after.in_range and event.in_range:
            moved_s = after.to_seconds() - before.to_seconds()
            event = event.shifted(moved_s)[0]
        self._put(
            after.with_values(event_minutes=event.minute_of_day, event_days=event.day_counter)
        )
        self._divider.restart()
