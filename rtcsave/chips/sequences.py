"""Register accesses as data: what puts a clock on a cartridge, and what reads it back.

A sequence does nothing by itself: a flasher loops over its steps, a chip replays them. Order and
waits: Pan Docs, chapter on memory bank controllers.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction
from typing import Any, Final, Literal, Protocol

from rtcsave.chips import calendar_chip, counter_chip, minute_chip
from rtcsave.chips.divider import TICKS_PER_S
from rtcsave.clocks import CalendarClock, Clock, CounterClock, MinuteClock
from rtcsave.errors import BadArgument, NotTaken, shown
from rtcsave.when import unix_seconds

StepKind = Literal["write", "read", "expect", "wait", "poll"]

ACCESS_WAIT_US: Final = 4
"""Leave 4 µs between accesses to the day-counter clock (Pan Docs)."""

MOST_POLLS: Final = 10_000
POLL_US: Final = 100

_WINDOW: Final = counter_chip.WINDOW_START


class Bus(Protocol):
    """What a sequence is replayed on: a chip, or anything that reads, writes and lets time pass."""

    def read(self, address: int) -> int | None:
        """Read a byte."""

    def write(self, address: int, value: int) -> None:
        """Write a byte."""

    def run(self, seconds: float | None = None, *, ticks: int | None = None) -> None:
        """Let time pass."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step: write a byte, read one under a name, expect one, wait, or poll until it is there.

    `mask` says which bits of a read, an expectation or a poll count. `wait_us` is for a wait. A step
    with `due` is the one that sets the clock going: it belongs at the sequence's instant. A write that
    keeps the bits outside its mask takes them from what was read under the name in `keep`.
    """

    kind: StepKind
    address: int | None = None
    value: int | None = None
    mask: int = 0xFF
    name: str = ""
    wait_us: int = 0
    note: str = ""
    due: bool = False
    keep: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sequence:
    """Ordered steps for one kind of clock.

    `at_unix_s` is the instant for which the clock is right, None for whenever: the step that is
    `due` shall be done then. Iterating gives the steps.
    """

    clock_kind: str
    steps: tuple[Step, ...]
    at_unix_s: int | None = None

    def __iter__(self) -> Iterator[Step]:
        return iter(self.steps)

    def __len__(self) -> int:
        return len(self.steps)

    @property
    def last_write(self) -> int | None:
        """The index of the step that is due at `at_unix_s`; None in a sequence that only reads."""
        return next((at for at, step in enumerate(self.steps) if step.due), None)

    @property
    def lead_us(self) -> int:
        """Microseconds of waits before the step that is due: start at least so much earlier."""
        last = self.last_write
        return 0 if last is None else sum(step.wait_us for step in self.steps[:last])

    def rows(self) -> list[dict[str, Any]]:
        """The steps as plain values, numbered from 1, for a table, JSON or CSV."""
        return [
            {
                "step": number,
                "kind": step.kind,
                "address": step.address,
                "value": step.value,
                "mask": step.mask if step.kind != "wait" and step.mask != 0xFF else None,
                "wait_us": step.wait_us or None,
                "name": step.name,
                "note": step.note,
                "due": step.due,
                "keep": step.keep,
            }
            for number, step in enumerate(self.steps, 1)
        ]

    def replay(self, chip: Bus) -> dict[str, int]:
        """Do the steps on a chip, through its own read, write and run; what was read, by name.

        `NotTaken` for the first expectation that fails, or a poll that never comes true.
        """
        found: dict[str, int] = {}
        owed = Fraction(0)
        for number, step in enumerate(self.steps, 1):
            if step.kind == "write":
                assert step.address is not None
                assert step.value is not None
                kept = found[step.keep] & ~step.mask if step.keep else 0
                chip.write(step.address, step.value & step.mask | kept)
            elif step.kind == "wait":
                owed += Fraction(step.wait_us * TICKS_PER_S, 1_000_000)
                chip.run(ticks=int(owed))
                owed -= int(owed)
            elif step.kind == "poll":
                _poll(chip, step, number)
            else:
                value = _masked(chip, step, number)
                if step.kind == "read":
                    found[step.name] = value
                elif value != step.value:
                    raise _not_taken(step, number, f"{value:02X}h")
        return found


def _masked(chip: Bus, step: Step, number: int) -> int:
    assert step.address is not None
    value = chip.read(step.address)
    if value is None:
        raise NotTaken(
            f"step {number}: nothing answers ({step.note or step.name})",
            where=f"address {step.address:04X}h",
            expected="the clock's register",
            remedy="check the contacts, and that the cartridge has this kind of clock",
        )
    return value & step.mask


def _poll(chip: Bus, step: Step, number: int) -> None:
    for _ in range(MOST_POLLS):
        if _masked(chip, step, number) == step.value:
            return
        chip.run(ticks=POLL_US * TICKS_PER_S // 1_000_000)
    raise _not_taken(step, number, f"something else after {MOST_POLLS} polls")


def _not_taken(step: Step, number: int, found: str) -> NotTaken:
    return NotTaken(
        f"step {number} did not find what it should ({step.note or step.name})",
        where=f"address {step.address:04X}h",
        found=found,
        expected=f"{step.value or 0:02X}h",
        remedy="the clock was not taken: check the contacts and write it again",
    )


def write_sequence(clock: Clock, at: datetime | int | None = None) -> Sequence:
    """The accesses that put a clock on a cartridge, so that it shows `clock` at the instant `at`.

    A clock that is to run is released by the last register write, which is then due; one that is to
    stay halted stays halted. What was written is read back. `BadArgument` for what is no clock.
    """
    writers = {
        CounterClock.kind: _write_counter,
        MinuteClock.kind: _write_minutes,
        CalendarClock.kind: _write_calendar,
    }
    if not isinstance(clock, Clock) or clock.kind not in writers:
        raise BadArgument("this is not a clock", found=shown(clock))
    at_s = None if at is None else unix_seconds(at, "at")
    return Sequence(clock_kind=clock.kind, steps=tuple(writers[clock.kind](clock)), at_unix_s=at_s)


def read_sequence(kind: str) -> Sequence:
    """The accesses that read a clock of a kind (`counter`, `minutes`, `calendar`), each register
    under its name; `clock_read` makes a clock of what they found."""
    readers = {
        CounterClock.kind: _read_counter,
        MinuteClock.kind: _read_minutes,
        CalendarClock.kind: _read_calendar,
    }
    if not isinstance(kind, str) or kind not in readers:
        raise BadArgument("unknown kind of clock", found=shown(kind), expected=", ".join(readers))
    return Sequence(clock_kind=kind, steps=tuple(readers[kind]()))


def clock_read(kind: str, found: dict[str, int]) -> Clock:
    """The clock in what a read sequence found.

    `NotTaken` where its seconds went on while a calendar clock was read: read it again.
    """
    kinds: dict[str, type[Clock]] = {
        one.kind: one for one in (CounterClock, MinuteClock, CalendarClock)
    }
    if kind not in kinds:
        raise BadArgument("unknown kind of clock", found=shown(kind), expected=", ".join(kinds))
    registers = kinds[kind].REGISTERS
    again = found.get(_AGAIN)
    if again is not None and again != found.get("seconds_1"):
        raise NotTaken("the seconds went on while the clock was read", remedy="read it again")
    return kinds[kind].from_registers(
        bytes(found.get(one.name, 0) for one in registers), stray="drop"
    )


def _write(address: int, value: int, note: str, due: bool = False) -> Step:
    return Step(kind="write", address=address, value=value, note=note, due=due)


def _spaced(steps: list[Step]) -> list[Step]:
    """The accesses with the wait between every two of them."""
    spaced: list[Step] = []
    for step in steps:
        if spaced:
            spaced.append(Step(kind="wait", wait_us=ACCESS_WAIT_US, note="between accesses"))
        spaced.append(step)
    return spaced


def _open_counter() -> list[Step]:
    return [_write(0x0000, counter_chip.OPEN, "open memory and clock")]


def _close_counter() -> list[Step]:
    return [
        _write(counter_chip.SELECT_START, 0x00, "select memory bank 0 again"),
        _write(0x0000, counter_chip.CLOSE, "close"),
    ]


def _latch_counter() -> list[Step]:
    return [
        _write(counter_chip.LATCH_START, 0x00, "latch: first 00h"),
        _write(counter_chip.LATCH_START, 0x01, "then 01h"),
    ]


def _write_counter(clock: Clock) -> list[Step]:
    held = clock.registers()
    high = held[4]
    steps = _open_counter()

    def put(at: int, value: int, note: str, due: bool = False) -> None:
        register = CounterClock.REGISTERS[at]
        steps.append(_write(counter_chip.SELECT_START, register.address, f"select {register.name}"))
        steps.append(_write(_WINDOW, value, note, due))

    put(4, high | counter_chip.HALT_BIT, "halt first")
    for at, register in enumerate(CounterClock.REGISTERS[:4]):
        put(at, held[at], register.name)
    last = "day_high: stays halted" if high & counter_chip.HALT_BIT else "day_high: release"
    put(4, high, last, due=True)
    steps += _latch_counter()
    for at, register in enumerate(CounterClock.REGISTERS):
        steps.append(_write(counter_chip.SELECT_START, register.address, f"select {register.name}"))
        steps.append(
            Step(
                kind="expect",
                address=_WINDOW,
                value=held[at],
                mask=register.mask,
                name=register.name,
                note=f"{register.name} was taken",
            )
        )
    return _spaced(steps + _close_counter())


def _read_counter() -> list[Step]:
    steps = _open_counter() + _latch_counter()
    for register in CounterClock.REGISTERS:
        steps.append(_write(counter_chip.SELECT_START, register.address, f"select {register.name}"))
        steps.append(Step(kind="read", address=_WINDOW, mask=register.mask, name=register.name))
    return _spaced(steps + _close_counter())


def _ready() -> list[Step]:
    return [
        _write(0x0000, minute_chip.SEMAPHORE, "map the semaphore"),
        Step(
            kind="poll",
            address=_WINDOW,
            value=minute_chip.READY,
            mask=minute_chip.READY,
            note="until it is ready",
        ),
    ]


def _command(command: int, argument: int, note: str, due: bool = False) -> list[Step]:
    return [
        *_ready(),
        _write(0x0000, minute_chip.COMMAND, "map the command"),
        _write(_WINDOW, command << 4 | argument, note),
        _write(0x0000, minute_chip.SEMAPHORE, "map the semaphore"),
        _write(_WINDOW, minute_chip.RUN, f"run: {note}", due),
        _ready()[1],
    ]


def _point_at(location: int) -> list[Step]:
    return [
        *_command(4, location & 0xF, f"address {location:02X}h, low nibble"),
        *_command(5, location >> 4, f"address {location:02X}h, high nibble"),
    ]


def _nibble_back(kind: StepKind, name: str, value: int | None) -> list[Step]:
    return [
        *_command(1, 0, f"read {name} and step"),
        _write(0x0000, minute_chip.RESPONSE, "map the response"),
        Step(
            kind=kind, address=_WINDOW, value=value, mask=0xF, name=name, note=f"{name} was taken"
        ),
    ]


def _status() -> list[Step]:
    """Ask for the status, to which the clock answers 1: proof that it is there."""
    return [
        *_command(6, 2, "ask for the status"),
        _write(0x0000, minute_chip.RESPONSE, "map the response"),
        Step(kind="expect", address=_WINDOW, value=1, mask=0xF, name="status", note="it answers 1"),
    ]


def _write_minutes(clock: Clock) -> list[Step]:
    held = clock.registers()
    names = [register.name for register in MinuteClock.REGISTERS]
    steps = _status() + _point_at(minute_chip.STAGING)
    for name, nibble in zip(names[:6], held[:6], strict=True):
        steps += _command(3, nibble, f"write {name} and step")
    steps += _command(6, 1, "set the time", due=True)
    steps += _point_at(minute_chip.EVENT)
    for name, nibble in zip(names[6:], held[6:], strict=True):
        steps += _command(3, nibble, f"write {name} and step")
    steps += _command(6, 0, "copy the time to read it")
    steps += _point_at(minute_chip.STAGING)
    for name, nibble in zip(names[:6], held[:6], strict=True):
        steps += _nibble_back("expect", name, nibble)
    steps += _point_at(minute_chip.EVENT)
    for name, nibble in zip(names[6:], held[6:], strict=True):
        steps += _nibble_back("expect", name, nibble)
    return [*steps, _write(0x0000, 0x00, "close")]


def _read_minutes() -> list[Step]:
    names = [register.name for register in MinuteClock.REGISTERS]
    steps = _status() + _command(6, 0, "copy the time to read it") + _point_at(minute_chip.STAGING)
    for name in names[:6]:
        steps += _nibble_back("read", name, None)
    steps += _point_at(minute_chip.EVENT)
    for name in names[6:]:
        steps += _nibble_back("read", name, None)
    return [*steps, _write(0x0000, 0x00, "close")]


_AGAIN: Final = "seconds_1_again"
_MODE: Final = "mode"
_BANKS: Final = (CalendarClock.REGISTERS[:13], CalendarClock.REGISTERS[13:])


def _read_mode() -> Step:
    return Step(kind="read", address=calendar_chip.MODE, mask=0xF, name=_MODE, note="mode as it is")


def _mode(value: int, mask: int, note: str) -> Step:
    """A write of some bits of the mode register; the others stay as they were read."""
    return Step(
        kind="write", address=calendar_chip.MODE, value=value, mask=mask, note=note, keep=_MODE
    )


def _write_calendar(clock: Clock) -> list[Step]:
    held = clock.registers()
    banks = (held[:13], held[13:])
    bank_and_timer = calendar_chip.BANK_BITS | calendar_chip.TIMER_ENABLE
    steps: list[Step] = [_read_mode()]
    for bank in (1, 0):  # the hour mode before the hours
        steps.append(_mode(bank, bank_and_timer, f"stop the timer, bank {bank}"))
        for register, nibble in zip(_BANKS[bank], banks[bank], strict=True):
            if register.mask:
                steps.append(_write(register.address, nibble, register.name))
    fresh = calendar_chip.RESET_FRACTION
    steps.append(_write(calendar_chip.RESET, fresh, "begin a second; at once:", due=True))
    timer = calendar_chip.TIMER_ENABLE
    steps.append(_mode(timer, bank_and_timer, "start the timer, bank 0"))
    for bank in (0, 1):
        if bank:
            steps.append(_mode(timer | bank, bank_and_timer, f"bank {bank}"))
        for register, nibble in zip(_BANKS[bank], banks[bank], strict=True):
            if register.mask:
                steps.append(
                    Step(
                        kind="expect",
                        address=register.address,
                        value=nibble,
                        mask=register.mask,
                        name=register.name,
                        note=f"{register.name} was taken",
                    )
                )
    return [*steps, _mode(timer, bank_and_timer, "bank 0 again")]


def _read_calendar() -> list[Step]:
    steps: list[Step] = [_read_mode()]
    for bank in (1, 0):
        steps.append(_mode(bank, calendar_chip.BANK_BITS, f"bank {bank}"))
        for register in _BANKS[bank]:
            if register.mask:
                steps.append(
                    Step(
                        kind="read",
                        address=register.address,
                        mask=register.mask,
                        name=register.name,
                    )
                )
    first = _BANKS[0][0]
    steps.append(
        Step(
            kind="read",
            address=first.address,
            mask=first.mask,
            name=_AGAIN,
            note="the seconds once more: if they went on, read it all again",
        )
    )
    return [*steps, _mode(0, 0, "the mode as it was")]
