"""Strategies for hypothesis: clocks, registers, blocks, saves healthy and damaged, histories, accesses.

For the tests of programs that read and write such clocks, ours among them. What they draw shrinks to
something that a person can read. Needs hypothesis: `pip install "rtcsave[hypothesis]"`.
"""

from __future__ import annotations

import gzip
import struct
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, Final, Literal, NamedTuple

try:
    from hypothesis import strategies as st
except ImportError as _error:
    raise ImportError(
        'rtcsave.strategies needs hypothesis: pip install "rtcsave[hypothesis]"'
    ) from _error

from rtcsave.chips import Bus
from rtcsave.clocks import CalendarClock, Clock, CounterClock, MinuteClock
from rtcsave.errors import BadArgument, shown
from rtcsave.layouts import BUILT_IN, ClockBlock, Layout, layout_named
from rtcsave.layouts.fields import CLOCKS
from rtcsave.savefile import SaveFile, dumps
from rtcsave.stamps import EARLIEST_USABLE_S, UNIX_64, judge
from rtcsave.units import COUNTER_PERIOD_S, DAY_S, HOUR_S

__all__ = [
    "DAMAGES",
    "NOW",
    "BusAccess",
    "CartridgeHistory",
    "Dump",
    "accesses",
    "blocks",
    "clocks",
    "histories",
    "registers",
    "saves",
]

NOW: Final = 1_790_856_000
"""2026-10-01T12:00:00Z: the present for which the saves that are drawn are healthy or damaged."""

_KINDS: Final = tuple(CLOCKS)


def clocks(kind: str | None = None, *, in_range: bool = True) -> st.SearchStrategy[Clock]:
    """Clocks of a kind (`counter`, `minutes`, `calendar`; None: any), running and without carry.

    With `in_range=False` any clock that the registers can hold, flags, invalid digits and dates included.
    """
    if kind is None:
        return st.one_of(*(clocks(one, in_range=in_range) for one in _KINDS))
    if not in_range:
        return registers(kind).map(CLOCKS[kind].from_registers)
    _check_kind(kind)
    made: dict[str, st.SearchStrategy[Clock]] = {
        CounterClock.kind: st.integers(0, COUNTER_PERIOD_S - 1).map(CounterClock.from_seconds),
        MinuteClock.kind: st.builds(
            MinuteClock,
            minute_of_day=st.integers(0, 1_439),
            day_counter=st.integers(0, 4_095),
            event_minutes=st.integers(0, 1_439),
            event_days=st.integers(0, 4_095),
        ),
        CalendarClock.kind: st.builds(
            _calendar, st.integers(0, CalendarClock.period_s - 1), st.integers(0, 6)
        ),
    }
    return made[kind]


def _calendar(seconds: int, weekday: int) -> Clock:
    return CalendarClock.from_seconds(seconds).with_values(weekday=weekday)


def registers(kind: str = CounterClock.kind) -> st.SearchStrategy[bytes]:
    """Register bytes as a chip of that kind can hold them: any value of the bits that exist."""
    _check_kind(kind)
    masks = [register.mask for register in CLOCKS[kind].REGISTERS]
    return st.tuples(*(st.integers(0, mask).map(_within(mask)) for mask in masks)).map(bytes)


def _within(mask: int) -> Callable[[int], int]:
    return lambda value: value & mask


def _check_kind(kind: object) -> None:
    if not isinstance(kind, str) or kind not in CLOCKS:
        raise BadArgument("unknown kind of clock", found=shown(kind), expected=", ".join(_KINDS))


def blocks(
    layouts: Iterable[str | Layout] = BUILT_IN, *, in_range: bool = True, now: int = NOW
) -> st.SearchStrategy[ClockBlock]:
    """Clock blocks in any of some layouts, described ones too: stamped in the year before `now`, if they
    have a stamp; with `in_range=False` any registers and any stamp, stray bits and unknown bytes."""
    known = [layout_named(layout) for layout in layouts]
    return st.sampled_from(known).flatmap(lambda layout: _block(layout, in_range, now))


def _block(layout: Layout, in_range: bool, now: int) -> st.SearchStrategy[ClockBlock]:
    if not in_range:
        raw = st.binary(min_size=layout.size, max_size=layout.size)
        return raw.map(lambda data: ClockBlock(layout=layout, raw=data))
    kind = layout.clock

    held = {bits.field for field in layout.part("running") for bits in field.bits}

    def make(running: Clock, latched_s: int, saved_s: int) -> ClockBlock:
        latched = None
        running = running.with_values(**{name: 0 for name in running.values() if name not in held})
        if layout.part("latched"):
            latched = running.shifted(-min(latched_s, running.to_seconds()))[0]
            if not any(latched.registers()):
                latched = running
        stamped = None if layout.stamp is None else saved_s
        return ClockBlock.new(running, saved_at=stamped, latched=latched, layout=layout)

    running = clocks(kind)
    if kind == CounterClock.kind:  # far enough from its end not to overflow before `now`
        running = st.integers(1, 146 * DAY_S).map(CounterClock.from_seconds)
    unit_s = CLOCKS[kind].resolution_s
    return st.builds(
        make,
        running,
        st.integers(0, 90).map(lambda n: n * unit_s),
        st.integers(now - 365 * DAY_S, now),
    )


_IMAGE_SIZES: Final = (2_048, 8_192, 512, 32_768)


def _images(sizes: Iterable[int] = _IMAGE_SIZES) -> st.SearchStrategy[bytes]:
    """Memory images that look like a game's: bytes by a rule from a few that are drawn."""

    def image(size: int, seed: int, title: bytes) -> bytes:
        body = bytes((at * at // 7 + at * 31 + seed) % 251 for at in range(size))
        return (title + body)[:size]

    return st.builds(
        image,
        st.sampled_from(tuple(sizes)),
        st.integers(0, 250),
        st.text("ABCDEFGHIJKLMNOPQRSTUVWXYZ ", max_size=8).map(str.encode),
    )


def saves(damage: str | None = None, *, now: int = NOW) -> st.SearchStrategy[bytes]:
    """The bytes of saves: a memory image with a block after it, healthy, or damaged in one way.

    `damage` is a code of `DAMAGES`: `examine` finds it in what is drawn. They are judged by `now`.
    """
    if damage is None:
        return st.builds(
            lambda memory, block: dumps(SaveFile(memory=memory, block=block)),
            _images(),
            blocks(("block48", "block44"), now=now),
        )
    if damage not in DAMAGES:
        raise BadArgument("unknown damage", found=shown(damage), expected=", ".join(DAMAGES))
    made = DAMAGES[damage]
    return st.builds(
        lambda memory, block, chance: made(memory, block, chance, now),
        _images((2_048, 8_192)),
        blocks(("block48",), now=now),
        st.integers(0, 255),
    )


_Damage = Callable[[bytes, ClockBlock, int, int], bytes]


def _with_word(at: int, change: Callable[[int, int], int]) -> _Damage:
    """Damage to one of the ten words: what becomes of it, by chance."""

    def damage(memory: bytes, block: ClockBlock, chance: int, now: int) -> bytes:
        words = list(struct.unpack("<10Iq", block.raw))
        words[at] = change(words[at], chance)
        return memory + struct.pack("<10Iq", *words)

    return damage


def _with_stamp(change: Callable[[int, int, int], int]) -> _Damage:
    def damage(memory: bytes, block: ClockBlock, chance: int, now: int) -> bytes:
        stamp = change(block.stamp or 0, chance, now) & 0xFFFF_FFFF_FFFF_FFFF
        return memory + block.raw[:40] + stamp.to_bytes(8, "little")

    return damage


def _second_block(block: ClockBlock, seconds: int) -> bytes:
    later = block.with_clock(block.running.advance(seconds))
    return later.with_stamp((block.usable_unix_s or 0) - 1).raw


def _other_order(stamp: int, chance: int, now: int) -> int:
    """A stamp in the other byte order, of which no other reading gives a plausible date."""
    while True:
        swapped = int.from_bytes(stamp.to_bytes(8, "little"), "big", signed=True)
        judged = judge(swapped, UNIX_64, now)
        if judged is not None and judged.code == "stamp-byte-order":
            return swapped
        stamp -= 1


def _latched_ahead(seconds: int) -> _Damage:
    def damage(memory: bytes, block: ClockBlock, chance: int, now: int) -> bytes:
        later = block.running.advance(seconds + chance)
        return memory + block.with_clock(later, "latched").raw

    return damage


def _overflowed_since(memory: bytes, block: ClockBlock, chance: int, now: int) -> bytes:
    late = CounterClock.from_seconds(COUNTER_PERIOD_S - 1 - chance)
    old = block.with_clock(late).with_clock(late, "latched").with_stamp(now - 40 * DAY_S)
    return memory + old.raw


def _stripes(memory: bytes, block: ClockBlock, chance: int, now: int) -> bytes:
    width = 16 << chance % 3
    stripe = bytes(width) + b"\xff" * width
    return (stripe * (len(memory) // len(stripe) + 1))[: len(memory)] + block.raw


def _line_endings(memory: bytes, block: ClockBlock, chance: int, now: int) -> bytes:
    whole = bytearray(memory + block.raw)
    for at in (3, 10, 20 + chance):
        whole[at] = 0x0A
    return bytes(whole).replace(b"\r", b"\x0e").replace(b"\n", b"\r\n")


DAMAGES: Final[Mapping[str, _Damage]] = MappingProxyType(
    {
        "wrapped-compressed": lambda memory, block, chance, now: gzip.compress(
            memory + block.raw, mtime=0
        ),
        "wrapped-line-endings": _line_endings,
        "block-doubled": lambda memory, block, chance, now: (
            memory + _second_block(block, 0) + block.raw
        ),
        "block-inside": lambda memory, block, chance, now: (memory[:512] + block.raw).ljust(
            len(memory), b"\xff"
        ),
        "block-cut-short": lambda memory, block, chance, now: (
            memory + block.raw[: 20 + chance % 20]
        ),
        "block-unreadable": lambda memory, block, chance, now: (
            memory + bytes(0x80 | at * 37 + chance & 0x7F for at in range(48))
        ),
        "memory-mirrored": lambda memory, block, chance, now: memory[:2_048] * 4 + block.raw,
        "memory-blank": lambda memory, block, chance, now: (
            (b"\xff" if chance % 2 else b"\0") * len(memory) + block.raw
        ),
        "memory-power-up": _stripes,
        "register-stray-bits": _with_word(0, lambda word, chance: word | 0x40 << chance % 26),
        "register-past-range": _with_word(1, lambda word, chance: 60 + chance % 4),
        "register-halted": _with_word(4, lambda word, chance: word | 0x40),
        "register-carry": _with_word(4, lambda word, chance: word | 0x80),
        "register-overflow-since-stamp": _overflowed_since,
        "latched-past-range": _with_word(6, lambda word, chance: 60 + chance % 4),
        "latched-zero": lambda memory, block, chance, now: (
            memory + block.raw[:20] + bytes(20) + block.raw[40:]
        ),
        "latched-exchanged": _latched_ahead(1),
        "latched-later": _latched_ahead(DAY_S),
        "stamp-absent": _with_stamp(lambda stamp, chance, now: -1 if chance % 2 else 0),
        "stamp-milliseconds": _with_stamp(lambda stamp, chance, now: stamp * 1000 + chance),
        "stamp-upper-half": _with_stamp(lambda stamp, chance, now: stamp | (0x4000 + chance) << 48),
        "stamp-byte-order": _with_stamp(_other_order),
        "stamp-other-epoch": _with_stamp(lambda stamp, chance, now: stamp * 1_000_000 + chance),
        "stamp-local-time": _with_stamp(lambda stamp, chance, now: now + HOUR_S + chance),
        "stamp-future": _with_stamp(lambda stamp, chance, now: now + 30 * DAY_S + chance * DAY_S),
        "stamp-early": _with_stamp(lambda stamp, chance, now: EARLIEST_USABLE_S // 2 + chance),
        "stamp-unrepresentable": _with_stamp(lambda stamp, chance, now: 2**55 + 2**31 + chance),
    }
)
"""The ways to damage a save, by the code of the finding that `examine` then has."""


class Dump(NamedTuple):
    """A save of a cartridge, and the true instant at which its clock was read, in Unix seconds."""

    save: SaveFile
    at_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CartridgeHistory:
    """What happened to a cartridge, and the dumps that were made of it, with the truth kept."""

    rate_ppm: float
    """How much faster than true time its crystal runs."""
    events: tuple[str, ...]
    """What happened, in words, in order."""
    dumps: tuple[Dump, ...]
    """The dumps, oldest first: two or more."""

    @property
    def elapsed_s(self) -> float:
        """The true time between the first dump and the last."""
        return self.dumps[-1].at_s - self.dumps[0].at_s


_Event = tuple[str, int]


def histories(*, now: int = NOW) -> st.SearchStrategy[CartridgeHistory]:
    """Histories of a day-counter cartridge: it runs with a drift, is halted, stops, is set, and is dumped
    again and again, with stamps that are right to the second or that lie."""
    off_s: st.SearchStrategy[int] = st.sampled_from((0, 0, 0, 5, 3600, -3600))
    events = st.lists(
        st.one_of(
            st.tuples(st.just("ran"), st.integers(1, 200 * DAY_S)),
            st.tuples(st.just("halted"), st.integers(1, 30 * DAY_S)),
            st.tuples(st.just("stopped"), st.integers(1, 30 * DAY_S)),
            st.tuples(st.just("set"), st.integers(0, COUNTER_PERIOD_S - 1)),
            st.tuples(st.just("dumped"), off_s),
        ),
        max_size=6,
    )
    return st.builds(
        _history,
        st.integers(0, COUNTER_PERIOD_S - 1),
        st.integers(-100, 100),
        events,
        st.just(now - 4 * 365 * DAY_S),
    )


def _history(start_s: int, rate_ppm: int, events: list[_Event], began_s: int) -> CartridgeHistory:
    clock, at_s, phase_s = CounterClock.from_seconds(start_s), float(began_s), 0.0
    told: list[str] = []
    made: list[Dump] = []

    def dump(lie_s: int) -> None:
        block = ClockBlock.new(clock, saved_at=int(at_s) + lie_s)
        made.append(Dump(SaveFile(memory=_MEMORY, block=block), at_s))
        told.append("dumped" if not lie_s else f"dumped, the stamp {lie_s:+d} s off")

    dump(0)
    for what, value in events:
        if what == "ran":
            phase_s += value * (1 + rate_ppm / 1e6)
            clock, phase_s = clock.advance(int(phase_s)), phase_s % 1
            at_s += value
            told.append(f"ran for {value} s")
        elif what in ("halted", "stopped"):
            at_s += value
            told.append(f"{what} for {value} s")
        elif what == "set":
            clock, phase_s = CounterClock.from_seconds(value, carry=clock.carry), 0.0
            told.append(f"set to {clock.reading()}")
        else:
            dump(value)
    dump(0)
    return CartridgeHistory(rate_ppm=rate_ppm, events=tuple(told), dumps=tuple(made))


_MEMORY: Final = bytes((at * 31 + 7) % 251 for at in range(2_048))


class BusAccess(NamedTuple):
    """One access of a program that knows nothing of the clock: a read, a write, or a wait."""

    kind: Literal["read", "write", "wait"]
    address: int = 0
    value: int = 0
    microseconds: int = 0

    def on(self, bus: Bus) -> Any:
        """Do it."""
        if self.kind == "read":
            return bus.read(self.address)
        if self.kind == "write":
            return bus.write(self.address, self.value)
        return bus.wait(self.microseconds)


_ADDRESSES: Final[Mapping[str, tuple[int, ...]]] = {
    CounterClock.kind: (
        0x0000,
        0x4000,
        0x6000,
        0xA000,
        0x1FFF,
        0x5FFF,
        0x7FFF,
        0xBFFF,
        0x2000,
        0xC000,
    ),
    MinuteClock.kind: (0x0000, 0xA000, 0x1FFF, 0xBFFF, 0x4000),
    CalendarClock.kind: tuple(range(16)),
}
_VALUES: Final[Mapping[str, tuple[int, ...]]] = {
    CounterClock.kind: (0x00, 0x01, 0x08, 0x09, 0x0A, 0x0B, 0x0C, 0x40, 0xC1, 0xFF),
    MinuteClock.kind: (0x00, 0x0B, 0x0C, 0x0D, 0xFE, 0x10, 0x31, 0x40, 0x51, 0x60, 0x61, 0x62),
    CalendarClock.kind: tuple(range(16)),
}


def accesses(kind: str = CounterClock.kind) -> st.SearchStrategy[list[BusAccess]]:
    """Accesses of a program to a clock of a kind: those of its bus, mostly with values that mean something,
    and waits from a microsecond to a day."""
    _check_kind(kind)
    addresses = st.sampled_from(_ADDRESSES[kind])
    values = st.one_of(st.sampled_from(_VALUES[kind]), st.integers(0, 0xFF))
    waits = st.sampled_from(
        (1, 4, 1_000, 16_743, 500_000, 1_000_000, 60_000_000, DAY_S * 1_000_000)
    )
    return st.lists(
        st.one_of(
            st.builds(BusAccess, st.just("write"), addresses, values),
            st.builds(BusAccess, st.just("read"), addresses),
            st.builds(BusAccess, st.just("wait"), microseconds=waits),
        ),
        max_size=40,
    )
