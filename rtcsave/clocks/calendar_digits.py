"""The calendar clock's registers: which digit of what each of them holds.

The handbook of this part (its title: README, Sources), chapter 5 section 6, figures 5.26 to 5.32; an
operating-system kernel's driver for it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from rtcsave.clocks.fields import Bits, Register

# What the digits can hold at all; past it a value has no registers.
LARGEST: Final = {
    "year": 99, "month": 19, "day": 39, "weekday": 7, "hours": 39, "minutes": 79, "seconds": 79,
}  # fmt: skip


def _register(name: str, address: int, name_of: str | None, width: int, digit: int) -> Register:
    bits: tuple[Bits, ...] = ()
    if name_of == "alarm":  # seven nibbles as they are: any of them is an alarm
        bits = (Bits(field=name_of, width=width, onto=4 * digit),)
    elif name_of is not None:
        bits = (Bits(field=name_of, width=width, onto=digit, bcd=True),)
    return Register(name=name, address=address, bits=bits)


# name, field, valid bits, digit: bank 0, then bank 1; a register without a field reads 0
BANK_0: Final = (
    ("seconds_1", "seconds", 4, 0), ("seconds_10", "seconds", 3, 1),
    ("minutes_1", "minutes", 4, 0), ("minutes_10", "minutes", 3, 1),
    ("hours_1", "hours", 4, 0), ("hours_10", "hours", 2, 1),
    ("weekday", "weekday", 3, 0),
    ("day_1", "day", 4, 0), ("day_10", "day", 2, 1),
    ("month_1", "month", 4, 0), ("month_10", "month", 1, 1),
    ("year_1", "year", 4, 0), ("year_10", "year", 4, 1),
)  # fmt: skip
BANK_1: Final = (
    ("bank1_0", None, 0, 0), ("bank1_1", None, 0, 0),
    ("alarm_minutes_1", "alarm", 4, 0), ("alarm_minutes_10", "alarm", 3, 1),
    ("alarm_hours_1", "alarm", 4, 2), ("alarm_hours_10", "alarm", 2, 3),
    ("alarm_weekday", "alarm", 3, 4),
    ("alarm_day_1", "alarm", 4, 5), ("alarm_day_10", "alarm", 2, 6),
    ("bank1_9", None, 0, 0),
    ("hour_mode", "twelve_hour", 1, 0), ("leap_counter", "leap_counter", 2, 0),
    ("bank1_12", None, 0, 0),
)  # fmt: skip
ALARM: Final = slice(15, 22)
ALARM_BITS: Final = 0x3F73F7F


def time_in(n: Sequence[int]) -> dict[str, int]:
    """The fields of the time in 26 registers, every digit by its value, none clipped."""
    return {
        "seconds": n[0] + 10 * n[1],
        "minutes": n[2] + 10 * n[3],
        "hours": _hours_in(n[4], n[5], not n[23]),
        "weekday": n[6],
        "day": n[7] + 10 * n[8],
        "month": n[9] + 10 * n[10],
        "year": n[11] + 10 * n[12],
    }


def _hours_in(units: int, tens: int, twelve_hour: bool) -> int:
    """The hour, 0 to 23, that two digits hold; an invalid hour is given by its value."""
    if not twelve_hour:
        return units + 10 * tens
    hour = units + 10 * (tens & 1)
    return (0 if hour == 12 else hour) + (12 if tens & 2 else 0)


REGISTERS: Final[tuple[Register, ...]] = tuple(
    _register(name, address, of, width, digit)
    for bank in (BANK_0, BANK_1)
    for address, (name, of, width, digit) in enumerate(bank)
)
"""Registers 0 to 12 of bank 0, then of bank 1."""


def fields_in(n: bytes) -> dict[str, int]:
    """Every field in 26 registers, each as near as its digits can hold."""
    alarm = sum(nibble << 4 * place for place, nibble in enumerate(n[ALARM]))
    time = {name: min(value, LARGEST[name]) for name, value in time_in(n).items()}
    return {**time, "leap_counter": n[24], "twelve_hour": not n[23], "alarm": alarm}


def registers_of(fields: Mapping[str, int], digits: bytes) -> bytes:
    """The 26 registers that hold these fields; `digits` are those of the time that are no digits."""
    seconds, minutes, hours = fields["seconds"], fields["minutes"], fields["hours"]
    nibbles = [digit for value in (seconds, minutes) for digit in (value % 10, value // 10)]
    nibbles += _hour_digits(hours, bool(fields["twelve_hour"]))
    nibbles.append(fields["weekday"])
    date = (fields["day"], fields["month"], fields["year"])
    nibbles += [digit for value in date for digit in (value % 10, value // 10)]
    if digits:
        nibbles = list(digits)
    nibbles += [0, 0, *(fields["alarm"] >> 4 * place & 0xF for place in range(7))]
    nibbles += [0, 0 if fields["twelve_hour"] else 1, fields["leap_counter"], 0]
    return bytes(nibbles)


def _hour_digits(hours: int, twelve_hour: bool) -> list[int]:
    """Units and tens of an hour; in 12-hour mode 12, 1 to 11, with bit 1 of the tens for PM."""
    if not twelve_hour or hours > 23:
        return [hours % 10, hours // 10]
    twelve = hours % 12 or 12
    return [twelve % 10, twelve // 10 | (2 if hours >= 12 else 0)]


def illegal_digits(digits: bytes, twelve_hour: bool) -> tuple[tuple[str, int], ...]:
    """Registers of the time that hold no proper digit: name and nibble."""
    illegal = [
        (register.name, nibble)
        for register, nibble in zip(REGISTERS, digits, strict=False)
        if nibble > 9
    ]
    if digits and twelve_hour and digits[4] <= 9:
        units, tens = digits[4:6]
        if not 1 <= units + 10 * (tens & 1) <= 12:
            illegal += [("hours_1", units), ("hours_10", tens)]
    return tuple(illegal)
