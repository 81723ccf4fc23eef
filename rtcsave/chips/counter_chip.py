"""The day-counter clock as the cartridge bus sees it.

Addresses, selects, latch and halt: Pan Docs, chapter on memory bank controllers. Masks and the
divider: hardware measurements, public domain. What neither says is marked.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Final

from rtcsave.chips.chip import Chip, say_state
from rtcsave.chips.divider import byte_of, clock_of_kind, no_address, ticks_of
from rtcsave.clocks import Clock, CounterClock
from rtcsave.layouts import ClockBlock

ENABLE_END: Final = 0x1FFF
SELECT_START: Final = 0x4000
SELECT_END: Final = 0x5FFF
LATCH_START: Final = 0x6000
LATCH_END: Final = 0x7FFF
WINDOW_START: Final = 0xA000
WINDOW_END: Final = 0xBFFF

OPEN: Final = 0x0A
CLOSE: Final = 0x00
SECONDS: Final = 0x08
HALT_BIT: Final = 0x40
OPEN_BUS: Final = 0xFF
"""What a read gives when nothing answers: common practice."""

_LAST_BANK: Final = 0x07


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class CounterState:
    """All of a day-counter chip at one moment."""

    running: CounterClock
    """The running clock."""
    latched: CounterClock
    """The clock as last latched."""
    ticks: int
    """Ticks of 1/32,768 s of the current second that have passed."""
    part: float
    """The part of a tick that has passed."""
    selected: int
    """The number last written to select a memory bank or a register."""
    latch_armed: bool
    """Whether the next write of 01h to the latch latches."""
    open: bool
    """Whether memory and clock registers answer."""
    block: ClockBlock | None
    """The block that the chip came from."""

    def __repr__(self) -> str:
        more = f", {'open' if self.open else 'closed'}, {self.selected:02X}h selected"
        return say_state("CounterState", self.running, self.ticks, more)


class CounterChip(Chip[CounterClock, CounterState]):
    """Registers, latch, divider and selects of the day-counter clock. Everything starts at 0.

    `write` and `read` take bus addresses; those that belong to the memory or to nobody are left to
    the caller: `read` gives None where memory would answer, and `memory_bank` names its bank. `run`
    lets time pass, in constant time. A chip may be subclassed.
    """

    kind: ClassVar[str] = "counter"
    default_layout: ClassVar[str] = "block48"
    _clock_type = CounterClock
    _state_type = CounterState

    def __init__(self, clock: CounterClock | None = None) -> None:
        zero = CounterClock(seconds=0, minutes=0, hours=0, day_counter=0)
        self._clock = zero if clock is None else clock_of_kind(clock, CounterClock)
        self._latched = bytes(5)
        self._open = False
        self._select = 0
        self._latch_armed = False

    @property
    def state(self) -> CounterState:
        """All of the chip as one value: take it at every frame, and set it to rewind."""
        return CounterState(
            running=self._clock,
            latched=CounterClock.from_words(self._latched),
            ticks=self._ticks,
            part=self._part,
            selected=self._select,
            latch_armed=self._latch_armed,
            open=self._open,
            block=self._block,
        )

    @state.setter
    def state(self, given: object) -> None:
        state = self._checked_state(given)
        self._clock = state.running
        self._latched = state.latched.registers()
        self._ticks, self._part = state.ticks, state.part
        self._select, self._latch_armed = state.selected, state.latch_armed
        self._open, self._block = state.open, state.block

    @property
    def is_open(self) -> bool:
        """Whether memory and clock registers answer."""
        return self._open

    @property
    def memory_bank(self) -> int | None:
        """The memory bank that the window shows; None if closed or if it shows no memory."""
        return self._select if self._open and self._select <= _LAST_BANK else None

    @property
    def latched(self) -> CounterClock:
        """The clock as last latched: what reads see."""
        return CounterClock.from_registers(self._latched)

    def snapshot(self) -> CounterClock:
        """The running clock as it is now."""
        return self._clock

    def run(self, seconds: float | None = None, *, ticks: int | None = None) -> None:
        """Let time pass: `seconds`, or `ticks` of 1/32,768 s. Halted, nothing moves, the fraction
        of a second neither."""
        if self._clock.halt:
            ticks_of(seconds, ticks)  # a wrong call is wrong of a halted clock too
            return
        whole = self._pass_time(seconds, ticks)
        if whole:
            self._clock = self._clock.advance(whole)

    def write(self, address: int, value: int) -> None:
        """A write on the bus; what is not for the clock is passed over.

        Any other value than 0Ah closes (the source names 00h only: assumed), and a select past 0Ch
        selects nothing (assumed). Writing the seconds restarts the current second.
        """
        value = byte_of(value)
        if not isinstance(address, int):
            raise no_address(address)
        if 0 <= address <= ENABLE_END:
            self._open = value == OPEN
        elif SELECT_START <= address <= SELECT_END:
            self._select = value
        elif LATCH_START <= address <= LATCH_END:
            if value == 1 and self._latch_armed:
                self._latched = self._clock.registers()
            self._latch_armed = value == 0
        elif WINDOW_START <= address <= WINDOW_END and self._open:
            index = self._select - SECONDS
            if 0 <= index < 5:
                self._write_register(index, value)

    def _write_register(self, index: int, value: int) -> None:
        registers = bytearray(self._clock.registers())
        registers[index] = value
        self._clock = CounterClock.from_words(registers)  # drops what the register does not have
        if index == 0:
            self._restart_unit()

    def read(self, address: int) -> int | None:
        """A read on the bus: the latched register that is selected, FFh where nothing answers.

        None where memory would answer, or the address is not the clock's.
        """
        if not isinstance(address, int):
            raise no_address(address)
        if not WINDOW_START <= address <= WINDOW_END:
            return None
        if not self._open:
            return OPEN_BUS
        index = self._select - SECONDS
        if index < 0:
            return None
        return self._latched[index] if index < 5 else OPEN_BUS

    def _take_latched(self, block: ClockBlock) -> None:
        clock = block.running if block.latched is None else block.latched
        self._latched = clock.registers()

    @property
    def _is_running(self) -> bool:
        return not self._clock.halt

    def _latched_clock(self) -> Clock:
        return self.latched
