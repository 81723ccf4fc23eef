"""The minute-of-day clock and its mapper: a 4-bit microcontroller and its semaphore protocol.

Pan Docs, chapter on memory bank controllers. What the source is silent on is assumed, and said.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar, Final

from rtcsave.chips.chip import Chip, say_state
from rtcsave.chips.divider import TICKS_PER_S, byte_of, clock_of_kind, no_address
from rtcsave.clocks import MinuteClock
from rtcsave.layouts import ClockBlock
from rtcsave.units import MINUTE_S
from rtcsave.when import Instant

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


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class MinuteState:
    """All of a minute-of-day chip at one moment."""

    nibbles: bytes
    """The microcontroller's 256 nibbles, a byte each; the clock's are at 10h and 58h."""
    ticks: int
    """Ticks of 1/32,768 s of the current minute that have passed."""
    part: float
    """The part of a tick that has passed."""
    selected: int
    """The number last written to map a register or memory."""
    command: int
    """The command byte last written."""
    response: int
    """The nibble that the response register shows."""
    address: int
    """The nibble to read or write next."""
    busy_polls: int
    """How often the semaphore says after a command that it is not ready."""
    busy_left: int
    """How often it will still say so."""
    block: ClockBlock | None
    """The block that the chip came from."""

    @property
    def running(self) -> MinuteClock:
        """The running clock, with its event."""
        return MinuteClock.from_words(
            self.nibbles[TIME : TIME + 6] + self.nibbles[EVENT : EVENT + 6]
        )

    def __repr__(self) -> str:
        return say_state(
            "MinuteState", self.running, self.ticks, f", {self.selected:02X}h selected"
        )


class MinuteChip(Chip[MinuteClock, MinuteState]):
    """The microcontroller's 256 nibbles, its clock, and the three registers that the bus maps.

    Where in the staging area each digit lies is assumed: 00h to 02h the minute, 03h to 05h the day,
    06h kept. Setting the time is assumed to begin a new minute. `busy_polls` is how often the
    semaphore says that it is not ready after a command (real ones take their time). A block holds the
    clock and its event; the other nibbles are in the chip's `state` only.
    """

    kind: ClassVar[str] = "minutes"
    default_layout: ClassVar[str] = "minutes12"
    _clock_type = MinuteClock
    _state_type = MinuteState
    _ticks_per_unit: ClassVar[int] = 60 * TICKS_PER_S

    def __init__(self, clock: MinuteClock | None = None, busy_polls: int = 0) -> None:
        self._nibbles = bytes(256)
        self._mapped = 0
        self._command = 0
        self._response = 0
        self._address = 0
        self._busy_polls = busy_polls
        self._busy_left = 0
        zero = MinuteClock(minute_of_day=0, day_counter=0)
        self._put(zero if clock is None else clock_of_kind(clock, MinuteClock))

    @property
    def state(self) -> MinuteState:
        """All of the chip as one value: take it at every frame, and set it to rewind."""
        return MinuteState(
            nibbles=self._nibbles,
            ticks=self._ticks,
            part=self._part,
            selected=self._mapped,
            command=self._command,
            response=self._response,
            address=self._address,
            busy_polls=self._busy_polls,
            busy_left=self._busy_left,
            block=self._block,
        )

    @state.setter
    def state(self, given: object) -> None:
        state = self._checked_state(given)
        self._nibbles = state.nibbles
        self._ticks, self._part = state.ticks, state.part
        self._mapped, self._command = state.selected, state.command
        self._response, self._address = state.response, state.address
        self._busy_polls, self._busy_left = state.busy_polls, state.busy_left
        self._block = state.block

    def _set_nibbles(self, at: int, values: bytes) -> None:
        self._nibbles = self._nibbles[:at] + values + self._nibbles[at + len(values) :]

    def _put(self, clock: MinuteClock) -> None:
        registers = clock.registers()
        self._set_nibbles(TIME, registers[:6])
        self._set_nibbles(EVENT, registers[6:])

    def _fraction_at(self, at: tuple[int, float]) -> float:
        block = self._block
        began_s = None if block is None else block.usable_unix_s
        if block is not None and began_s is None:
            began_s = block.carried_s
        since_s = 0 if began_s is None else at[0] - began_s
        return (since_s if 0 < since_s < MINUTE_S else 0) + at[1]

    def _right_at(self, saved_at: tuple[int, float]) -> int:
        """The second, to the nearest, at which the clock's current minute began; never a later one."""
        whole_s, fraction = saved_at
        return min(whole_s, math.floor(whole_s + fraction - self.fraction_s + 0.5))

    def _clock_at(self, saved_at: Instant | None) -> MinuteClock:
        return self.snapshot()

    @property
    def memory_bank(self) -> int | None:
        """0 where the window shows memory, None where it shows one of the clock's registers."""
        return None if COMMAND <= self._mapped <= SEMAPHORE else 0

    def snapshot(self) -> MinuteClock:
        """The clock as it is now, with its event."""
        nibbles = self._nibbles
        return MinuteClock.from_words(nibbles[TIME : TIME + 6] + nibbles[EVENT : EVENT + 6])

    def run(self, seconds: float | None = None, *, ticks: int | None = None) -> None:
        """Let time pass: `seconds`, or `ticks` of 1/32,768 s."""
        minutes = self._pass_time(seconds, ticks)
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
            self._set_nibbles(self._address, bytes((argument,)))
            self._address = (self._address + 1) & 0xFF
        elif command == 4:
            self._address = self._address & 0xF0 | argument
        elif command == 5:
            self._address = self._address & 0x0F | argument << 4
        elif command == 6:
            self._extended(argument)

    def _extended(self, argument: int) -> None:
        if argument == 0:
            self._set_nibbles(STAGING, self._nibbles[TIME : TIME + 6])
        elif argument == 1:
            self._set_time(self._nibbles[STAGING : STAGING + 6])
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
        self._restart_unit()
