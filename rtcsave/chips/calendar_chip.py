"""The calendar part by its own register numbers; the bus in front of it is the caller's.

The handbook of this part (its title: README, Sources), chapter 5 section 6; an operating-system kernel's
driver for it. What neither says is assumed, and said to be.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Final

from rtcsave.chips.chip import Chip, say_state
from rtcsave.chips.divider import byte_of, clock_of_kind, no_address
from rtcsave.clocks import CalendarClock
from rtcsave.layouts import ClockBlock

MODE: Final = 13
TEST: Final = 14
RESET: Final = 15
TIMER_ENABLE: Final = 0x8
BANK_BITS: Final = 0x3
RESET_FRACTION: Final = 0x2
RESET_ALARM: Final = 0x1

_PER_BANK: Final = 13
_ALARM: Final = _PER_BANK + 2
_MASKS: Final = bytes(
    [*(register.mask for register in CalendarClock.REGISTERS), *[0xF] * (2 * _PER_BANK)]
)


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class CalendarState:
    """All of a calendar chip at one moment."""

    banks: bytes
    """The four banks of 13 nibbles, a byte each; the clock's are the first two."""
    mode: int
    """The mode register."""
    ticks: int
    """Ticks of 1/32,768 s of the current second that have passed."""
    part: float
    """The part of a tick that has passed."""
    block: ClockBlock | None
    """The block that the chip came from."""

    @property
    def running(self) -> CalendarClock:
        """The running clock."""
        return CalendarClock.from_words(self.banks[: 2 * _PER_BANK])

    def __repr__(self) -> str:
        return say_state("CalendarState", self.running, self.ticks, f", mode {self.mode:X}h")


class CalendarChip(Chip[CalendarClock, CalendarState]):
    """Four banks of 13 nibbles: time, alarm and settings, and two of battery-backed memory.

    The mode register (13) shows in every bank: its bits 0 and 1 choose the bank, bit 2 the alarm,
    bit 3 lets the seconds count while the earlier divider stages always run on. 14 (test) and 15
    (reset) are write-only and read 0 (assumed). A chip starts with the timer on (assumed) and a date
    of 00-01-01. An invalid time is assumed not to count. A block holds the time and the alarm; the two banks
    of memory and the mode are in the chip's `state` only.
    """

    kind: ClassVar[str] = "calendar"
    default_layout: ClassVar[str] = "calendar26"
    _clock_type = CalendarClock
    _state_type = CalendarState

    def __init__(self, clock: CalendarClock | None = None) -> None:
        start = CalendarClock(year=0, month=1, day=1, weekday=0, hours=0, minutes=0, seconds=0)
        if clock is not None:
            start = clock_of_kind(clock, CalendarClock)
        self._banks = start.registers() + bytes(2 * _PER_BANK)
        self._mode = TIMER_ENABLE

    @property
    def state(self) -> CalendarState:
        """All of the chip as one value: take it at every frame, and set it to rewind."""
        return CalendarState(
            banks=self._banks,
            mode=self._mode,
            ticks=self._ticks,
            part=self._part,
            block=self._block,
        )

    @state.setter
    def state(self, given: object) -> None:
        state = self._checked_state(given)
        self._banks, self._mode = state.banks, state.mode
        self._ticks, self._part = state.ticks, state.part
        self._block = state.block

    @property
    def _is_running(self) -> bool:
        return self.timer_enabled and self.snapshot().counts

    @property
    def timer_enabled(self) -> bool:
        """Whether the seconds count."""
        return bool(self._mode & TIMER_ENABLE)

    def snapshot(self) -> CalendarClock:
        """The clock as it is now."""
        return CalendarClock.from_words(self._banks[: 2 * _PER_BANK])

    def run(self, seconds: float | None = None, *, ticks: int | None = None) -> None:
        """Let time pass: `seconds`, or `ticks` of 1/32,768 s."""
        whole = self._pass_time(seconds, ticks)
        if whole and self.timer_enabled:
            clock = self.snapshot()
            if clock.counts:
                self._set(0, clock.advance(whole).registers())

    def _set(self, at: int, nibbles: bytes) -> None:
        self._banks = self._banks[:at] + nibbles + self._banks[at + len(nibbles) :]

    def write(self, address: int, value: int) -> None:
        """Write a register, 0 to 15; its invalid bits are dropped, other numbers passed over."""
        nibble = byte_of(value) & 0xF
        if not isinstance(address, int):
            raise no_address(address)
        if address == MODE:
            self._mode = nibble
        elif address == RESET:
            if nibble & RESET_FRACTION:
                self._restart_unit()
            if nibble & RESET_ALARM:
                self._set(_ALARM, bytes(7))
        elif 0 <= address < _PER_BANK:
            at = (self._mode & BANK_BITS) * _PER_BANK + address
            self._set(at, bytes((nibble & _MASKS[at],)))

    def read(self, address: int) -> int | None:
        """Read a register, 0 to 15, as a nibble; None for other numbers."""
        if not isinstance(address, int):
            raise no_address(address)
        if address == MODE:
            return self._mode
        if 0 <= address < _PER_BANK:
            return self._banks[(self._mode & BANK_BITS) * _PER_BANK + address]
        return 0 if address in (TEST, RESET) else None
