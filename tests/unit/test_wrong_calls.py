"""A wrong call is answered with an error of the library's own, never with an accident of the language."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from known import HEALTHY48

import rtcsave
from rtcsave import (
    BadArgument,
    BadDescription,
    Bits,
    CalendarChip,
    CalendarClock,
    Checksum,
    CounterChip,
    CounterClock,
    Field,
    Layout,
    MinuteChip,
    MinuteClock,
    describe,
    loads,
)
from rtcsave.layouts import layout_named
from rtcsave.layouts.schema import STARTING_POINT
from rtcsave.stamps import StampForm

CLOCK = CounterClock(seconds=7, minutes=40, hours=13, day_counter=300)
SAVE = loads(HEALTHY48)
FIELDS = layout_named("registers5").fields
STAMPED = layout_named("block48").fields
ANYTHING: Any = None

CALLS: dict[str, Callable[[], object]] = {
    "no clock": lambda: SAVE.with_clock(ANYTHING),
    "no layout": lambda: SAVE.clock_block.with_layout(ANYTHING),
    "no seconds": lambda: CLOCK.overflows_within(ANYTHING),
    "seconds backward": lambda: CLOCK.overflows_within(-1),
    "no time": lambda: CLOCK.with_time(ANYTHING),
    "no date": lambda: CalendarClock.from_values({"year": 26}),
    "no words": lambda: CounterClock.from_words(ANYTHING),
    "words in letters": lambda: MinuteClock.from_words("abcdefghijkl"),  # type: ignore[arg-type]
    "too few words": lambda: CalendarClock.from_words([1, 2]),
    "nothing near": lambda: CounterClock.nearest(ANYTHING),
    "near another clock": lambda: CounterClock.nearest({"year": 3}),
    "a stamp in letters": lambda: StampForm().to_unix(ANYTHING),
    "an instant in letters": lambda: StampForm().to_raw(ANYTHING),
    "no offset": lambda: rtcsave.LAYOUTS["block48"].field_at(ANYTHING),
    "no values": lambda: CounterClock.from_values(ANYTHING),
    "values of another clock": lambda: CounterClock.from_values({"minute_of_day": 3}),
    "values missing": lambda: MinuteClock.from_values({"minute_of_day": 3}),
    "a field that is none": lambda: CLOCK.with_values(year=26),
    "a source that is no name": lambda: describe(STARTING_POINT, source=ANYTHING),
}


def table(field: dict[str, Any], bits: dict[str, Any], **more: Any) -> Callable[[], object]:
    """A layout of one field, made when called."""

    def make() -> object:
        bits_of_word = Bits(**{"field": "seconds", "width": 6, **bits})
        word = Field(
            **{
                "name": "s",
                "offset": 0,
                "size": 1,
                "part": "running",
                "bits": (bits_of_word,),
                **field,
            }
        )
        return Layout(**{"name": "x", "size": 8, "fields": (word,), **more})

    return make


TABLES: dict[str, Callable[[], object]] = {
    "no name": lambda: Layout(name=ANYTHING, size=5, fields=FIELDS),
    "no size": lambda: Layout(name="x", size=ANYTHING, fields=FIELDS),
    "a size in parts": lambda: Layout(name="x", size=5.0, fields=FIELDS),  # type: ignore[arg-type]
    "no kind": lambda: Layout(name="x", size=5, fields=FIELDS, clock=ANYTHING),
    "no fields": lambda: Layout(name="x", size=5, fields=ANYTHING),
    "a list of fields": lambda: Layout(name="x", size=5, fields=list(FIELDS)),  # type: ignore[arg-type]
    "fields that are none": lambda: Layout(name="x", size=5, fields=(1,)),  # type: ignore[arg-type]
    "an offset in letters": table({"offset": "a"}, {}),
    "an offset that is a flag": table({"offset": True}, {}),
    "a size in parts of a byte": table({"size": 1.5}, {}),
    "no order": table({"order": "middle"}, {}),
    "a list of bits": table({"bits": []}, {}),
    "bits that are none": table({"bits": (1,)}, {}),
    "a width in letters": table({}, {"width": "6"}),
    "a place that is none": table({}, {"onto": None}),
    "a coding that is none": table({}, {"bcd": "no"}),
    "a sum that is none": table({}, {}, checksum="crc-32"),
    "a sum to nowhere": lambda: Checksum(kind="crc-32", start=0, end=ANYTHING),
    "a stamp that counts nothing": lambda: Layout(
        name="x", size=48, fields=STAMPED, stamp=StampForm(counts_per_second=0)
    ),
    "a stamp that is none": lambda: Layout(
        name="x",
        size=48,
        fields=STAMPED,
        stamp="unix",  # type: ignore[arg-type]
    ),
}


@pytest.mark.parametrize("name", CALLS)
def test_an_argument_that_is_none_of_the_kind(name: str) -> None:
    with pytest.raises(BadArgument):
        CALLS[name]()


@pytest.mark.parametrize("name", TABLES)
def test_a_table_that_is_none(name: str) -> None:
    with pytest.raises(BadDescription):
        TABLES[name]()


def test_a_stamp_in_a_zone_that_is_none() -> None:
    with pytest.raises(BadArgument, match="zone"):
        StampForm(zone="Harrow/Quay")


def test_a_number_too_long_to_show_is_not_shown() -> None:
    with pytest.raises(BadArgument, match="cannot be shown"):
        SAVE.advance_to(10**5_000)


def test_a_table_from_another_language_may_have_tuples() -> None:
    table: dict[str, Any] = {
        "name": "small",
        "size": 2,
        "clock": "minutes",
        "field": ({"offset": 0, "bytes": 2, "holds": "minute_of_day"},),
    }
    save = loads(b"\x0f\x05", describe(table))
    assert save.clock_block.running.reading() == "0d21:35"
    assert save.advance_by(60).clock_block.raw == b"\x10\x05"


@pytest.mark.parametrize("chip", [CounterChip(), MinuteChip(), CalendarChip()])
@pytest.mark.parametrize("address", ["a", None, 1.5])
def test_an_address_that_is_none(chip: Any, address: Any) -> None:
    with pytest.raises(BadArgument, match="an address is a whole number"):
        chip.read(address)
    with pytest.raises(BadArgument, match="an address is a whole number"):
        chip.write(address, 0)
