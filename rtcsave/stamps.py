"""The stamp that says when a block was written: one judgement for all who ask.

A stamp is a raw integer. What it means is said by its form: how wide it is, whether signed, what
it counts and since when. Unix time is UTC without leap seconds (POSIX.1, XBD 4, "Seconds Since
the Epoch").
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, NamedTuple

from rtcsave.errors import BadArgument, BadDescription, DoesNotFit, refuse_wrong_types, shown
from rtcsave.units import DAY_S, HOUR_S
from rtcsave.when import check_zone, unix_of_wall, unix_seconds, wall_of_unix, whole_number

EARLIEST_USABLE_S: Final = 788_918_400
"""1995-01-01T00:00:00Z: no save with a clock block is older than that (common practice)."""

LAST_DATE_S: Final = 253_402_300_799
"""9999-12-31T23:59:59Z: the last second that a date of the standard library holds."""

FIRST_DATE_S: Final = -62_135_596_800
"""0001-01-01T00:00:00Z: the first one."""

PLAUSIBLE_AHEAD_S: Final = DAY_S
"""How far past the present a stamp may be: any zone's local time taken for UTC is within it."""

LOCAL_TIME_AHEAD_S: Final = 14 * HOUR_S
"""The largest offset of a zone from UTC (IANA tz: Pacific/Kiritimati, +14:00)."""


CLOCK_WRONG_BY_S: Final = 10 * 365 * DAY_S
"""How far ahead a computer's clock may have been when it wrote a stamp: ten years, from memory and
generous; clocks that lose their setting go back to a date before, not ahead."""

REPAIRED_UNASKED: Final = ("stamp-milliseconds", "stamp-upper-half", "stamp-byte-order")
"""The findings whose stamp is read another way unasked, where exactly one reading is plausible."""

LARGEST_STAMP: Final = 8
"""Bytes of the widest stamp."""


def dated_seconds(instant: object, name: str = "instant") -> int:
    """An instant as whole Unix seconds, if it has a date at all; `BadArgument` for one after 9999.

    Milliseconds that were taken for seconds are noticed so.
    """
    unix_s = unix_seconds(instant, name)
    if FIRST_DATE_S <= unix_s <= LAST_DATE_S:
        return unix_s
    raise BadArgument(
        f"{name} is after the last date or before the first",
        found=shown(instant),
        expected="Unix seconds, or a datetime",
        remedy="perhaps it is in milliseconds",
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class StampForm:
    """How a stamp is to be read: `size` bytes, what one count is and which second is zero.

    `epoch_unix_s` is the zero of the stamp in Unix seconds; `counts_per_second` is 1, 1,000 (ms),
    1,000,000 (µs) or 10,000,000 (100 ns). `zone` is the IANA zone whose wall clock it counts, empty
    for UTC; the epoch is then read in that zone too.
    """

    size: int = 8
    signed: bool = True
    """Whether the number is signed."""
    counts_per_second: int = 1
    epoch_unix_s: int = 0
    zone: str = ""

    def __post_init__(self) -> None:
        types = {
            "size": int,
            "signed": bool,
            "counts_per_second": int,
            "epoch_unix_s": int,
            "zone": str,
        }
        refuse_wrong_types(self, types)
        if not 1 <= self.size <= LARGEST_STAMP or self.counts_per_second < 1:
            raise BadDescription(
                "this is no way to read a stamp",
                found=shown(self),
                expected=f"1 to {LARGEST_STAMP:,} bytes and 1 count a second or more",
            )
        if self.zone:
            check_zone(self.zone)

    def to_unix(self, raw: int) -> int:
        """The Unix second that a raw stamp means; fractions are cut off downward."""
        raw = whole_number(raw, "a raw stamp")
        wall_s = raw // self.counts_per_second + self.epoch_unix_s
        return unix_of_wall(wall_s, self.zone) if self.zone else wall_s

    def to_raw(self, unix_s: int) -> int:
        """The raw stamp that means this Unix second; `DoesNotFit` if the field cannot hold it."""
        unix_s = whole_number(unix_s, "a Unix second")
        wall_s = wall_of_unix(unix_s, self.zone) if self.zone else unix_s
        raw = (wall_s - self.epoch_unix_s) * self.counts_per_second
        low, high = self.bounds
        if not low <= raw <= high:
            raise DoesNotFit(
                f"the stamp does not fit its {8 * self.size} bits",
                found=shown(raw),
                expected=f"{low} to {high}",
                remedy="choose a layout with a wider stamp, or drop the stamp",
            )
        if self.zone and self.to_unix(raw) != unix_s:
            raise DoesNotFit(
                f"the zone {self.zone} goes through this hour twice, and the stamp cannot say which is "
                "meant",
                found=shown(unix_s),
                remedy="choose an instant an hour later",
            )
        if is_absent(raw, self):
            raise DoesNotFit(
                "the stamp cannot say this instant: its bits mean that there is none",
                found=shown(raw),
                remedy="choose another instant, or none",
            )
        return raw

    @property
    def bounds(self) -> tuple[int, int]:
        """The smallest and the largest raw stamp."""
        bits = 8 * self.size
        return (-(1 << bits - 1), (1 << bits - 1) - 1) if self.signed else (0, (1 << bits) - 1)

    @property
    def all_ones(self) -> int:
        """The raw stamp with every bit set: -1 where signed."""
        return -1 if self.signed else (1 << 8 * self.size) - 1


UNIX_64: Final = StampForm()
UNIX_32: Final = StampForm(size=4, signed=False)


class Reading(NamedTuple):
    """Another way to read a raw stamp that gives a plausible instant."""

    code: str
    words: str
    unix_s: int


class Judgement(NamedTuple):
    """What is wrong with a stamp: a finding's code, and the other readings that would be right."""

    code: str
    readings: tuple[Reading, ...] = ()


def is_absent(raw: int, form: StampForm) -> bool:
    """Whether the stamp is absent: 0, or every bit set."""
    return raw == 0 or raw == form.all_ones


def is_usable(raw: int, form: StampForm) -> bool:
    """Whether the stamp is there and means a date from 1995 to 9999."""
    return not is_absent(raw, form) and EARLIEST_USABLE_S <= form.to_unix(raw) <= LAST_DATE_S


def is_plausible(raw: int, form: StampForm, now_s: int) -> bool:
    """Whether the stamp is usable and at most a day past the present."""
    return is_usable(raw, form) and form.to_unix(raw) <= now_s + PLAUSIBLE_AHEAD_S


def unix_or_none(raw: int, form: StampForm) -> int | None:
    """The Unix second that the stamp means, or None where absent or beyond what a date holds."""
    if is_absent(raw, form):
        return None
    unix_s = form.to_unix(raw)
    return unix_s if FIRST_DATE_S <= unix_s <= LAST_DATE_S else None


# Epochs and units in which programs count time, tried where the stamp's own reading fails. The
# zero points are arithmetic on the proleptic Gregorian calendar; that programs use them is common
# practice.
_OTHER_UNITS: Final = (
    ("microseconds since 1970", 1_000_000, 0),
    ("nanoseconds since 1970", 1_000_000_000, 0),
    ("100 ns units since 1601", 10_000_000, -11_644_473_600),
    ("100 ns units since the year 1", 10_000_000, FIRST_DATE_S),
)
_OTHER_EPOCHS: Final = (
    ("seconds since 1900", 1, -2_208_988_800),
    ("seconds since 1904", 1, -2_082_844_800),
)


def readings(raw: int, form: StampForm, now_s: int) -> tuple[Reading, ...]:
    """Every other way to read the raw stamp that gives a plausible instant, the most telling first.

    A finer unit leaves a plausible date to one raw stamp in billions; half of the bytes, their
    other order or another zero to about one in four of 32 bits.
    """
    plausible: list[Reading] = []

    def offer(code: str, words: str, unix_s: int) -> None:
        if EARLIEST_USABLE_S <= unix_s <= now_s + PLAUSIBLE_AHEAD_S:
            plausible.append(Reading(code=code, words=words, unix_s=unix_s))

    if form.counts_per_second == 1:
        offer("stamp-milliseconds", "milliseconds", raw // 1000 + form.epoch_unix_s)
    for words, per_second, epoch_s in _OTHER_UNITS:
        if (per_second, epoch_s) != (form.counts_per_second, form.epoch_unix_s):
            offer("stamp-other-epoch", words, raw // per_second + epoch_s)
    if form.size == 8 and raw >> 32:
        offer("stamp-upper-half", "its lower 32 bits alone", form.to_unix(raw & 0xFFFF_FFFF))
    swapped = int.from_bytes(
        raw.to_bytes(form.size, "little", signed=form.signed), "big", signed=form.signed
    )
    offer("stamp-byte-order", "the other byte order", form.to_unix(swapped))
    for words, per_second, epoch_s in _OTHER_EPOCHS:
        if (per_second, epoch_s) != (form.counts_per_second, form.epoch_unix_s):
            offer("stamp-other-epoch", words, raw // per_second + epoch_s)
    return tuple(plausible)


def judge(raw: int, form: StampForm, now_s: int) -> Judgement | None:
    """What is wrong with a stamp, or None; the most specific of the causes that fit."""
    if is_absent(raw, form):
        return Judgement(code="stamp-absent")
    unix_s = form.to_unix(raw)
    if is_plausible(raw, form, now_s):
        if unix_s <= now_s:
            return None
        ahead_s = unix_s - now_s
        return Judgement(
            code="stamp-local-time" if ahead_s <= LOCAL_TIME_AHEAD_S else "stamp-future"
        )
    others = readings(raw, form, now_s)
    if others:
        return Judgement(code=others[0].code, readings=others)
    if not FIRST_DATE_S <= unix_s <= LAST_DATE_S:
        return Judgement(code="stamp-unrepresentable")
    return Judgement(code="stamp-early" if unix_s < EARLIEST_USABLE_S else "stamp-future")


def certain_reading(raw: int, form: StampForm, now_s: int) -> Reading | None:
    """The only plausible reading of a stamp that `plan_repair` corrects by default, else None.

    One 32-bit stamp in four is plausible in the other byte order, so where its own order gives a
    date that a computer's clock may have been wrong by, turning it round is not certain.
    """
    judged = judge(raw, form, now_s)
    if judged is None or judged.code not in REPAIRED_UNASKED or len(judged.readings) != 1:
        return None
    short = judged.code == "stamp-byte-order" and form.size < 8 and is_usable(raw, form)
    if short and form.to_unix(raw) <= now_s + CLOCK_WRONG_BY_S:
        return None
    return judged.readings[0]
