"""One judgement about stamps, both sides of every boundary."""

from __future__ import annotations

import pytest

from rtcsave import DoesNotFit
from rtcsave.stamps import (
    UNIX_32,
    UNIX_64,
    StampForm,
    is_absent,
    is_plausible,
    is_usable,
    judge,
    readings,
    unix_or_none,
)

NOW = 1_773_238_500  # 2026-03-11T14:15:00Z
FIRST = 788_918_400  # 1995-01-01T00:00:00Z
LAST = 253_402_300_799  # 9999-12-31T23:59:59Z


def code(raw: int, form: StampForm = UNIX_64) -> str | None:
    judged = judge(raw, form, NOW)
    return None if judged is None else judged.code


@pytest.mark.parametrize(
    ("raw", "expected"),
    [
        (0, "stamp-absent"),
        (-1, "stamp-absent"),
        (1, "stamp-early"),
        (-2, "stamp-early"),
        (FIRST - 1, "stamp-early"),
        (FIRST, None),
        (NOW, None),
        (NOW + 1, "stamp-local-time"),
        (NOW + 14 * 3600, "stamp-local-time"),
        (NOW + 14 * 3600 + 1, "stamp-future"),
        (NOW + 86_400, "stamp-future"),
        (NOW + 86_401, "stamp-future"),
        (NOW * 1000, "stamp-milliseconds"),
        (NOW * 1000 + 999, "stamp-milliseconds"),
        (NOW | 0x7EAD_BEEF << 32, "stamp-upper-half"),
        (NOW - 2**63, "stamp-upper-half"),
        (int.from_bytes(NOW.to_bytes(8, "little"), "big", signed=True), "stamp-byte-order"),
        (NOW * 1_000_000, "stamp-other-epoch"),
        ((NOW + 11_644_473_600) * 10_000_000, "stamp-other-epoch"),
        (NOW + 2_082_844_800, "stamp-other-epoch"),
        (LAST + 1, "stamp-unrepresentable"),
        (2**63 - 1, "stamp-unrepresentable"),
        (-(2**63), "stamp-unrepresentable"),
    ],
)
def test_a_64_bit_stamp(raw: int, expected: str | None) -> None:
    assert code(raw) == expected


@pytest.mark.parametrize(
    ("raw", "expected"),
    [
        (0, "stamp-absent"),
        (0xFFFF_FFFF, "stamp-absent"),
        (0xFFFF_FFFE, "stamp-future"),
        (FIRST - 1, "stamp-early"),
        (NOW, None),
        (int.from_bytes(NOW.to_bytes(4, "little"), "big"), "stamp-byte-order"),
    ],
)
def test_a_32_bit_stamp(raw: int, expected: str | None) -> None:
    assert code(raw, UNIX_32) == expected


def test_usable_does_not_depend_on_the_present_and_plausible_does() -> None:
    assert is_usable(LAST, UNIX_64)
    assert not is_usable(LAST + 1, UNIX_64)
    assert is_usable(FIRST, UNIX_64)
    assert not is_usable(FIRST - 1, UNIX_64)
    assert is_plausible(NOW + 86_400, UNIX_64, NOW)
    assert not is_plausible(NOW + 86_401, UNIX_64, NOW)


def test_a_date_is_given_where_one_can_hold_it() -> None:
    assert unix_or_none(0, UNIX_64) is None
    assert unix_or_none(-1, UNIX_64) is None
    assert unix_or_none(-2, UNIX_64) == -2
    assert unix_or_none(LAST, UNIX_64) == LAST
    assert unix_or_none(LAST + 1, UNIX_64) is None
    # past 2038, until 2106: the unsigned reading of 32 bits
    assert unix_or_none(4_294_967_294, UNIX_32) == 4_294_967_294


def test_several_plausible_readings_are_all_named() -> None:
    # 1773152100250 ms has lower 32 bits that are no date since 1995; 1753400000000 has such ones
    assert [reading.code for reading in readings(1_773_152_100_250, UNIX_64, NOW)] == [
        "stamp-milliseconds"
    ]
    raw = 1_041_000_000 + (408 << 32)
    assert [reading.code for reading in readings(raw, UNIX_64, NOW)] == [
        "stamp-milliseconds",
        "stamp-upper-half",
    ]


def test_units_and_epochs() -> None:
    ms_since_2000 = StampForm(counts_per_second=1000, epoch_unix_s=946_684_800)
    assert ms_since_2000.to_unix(1_999) == 946_684_801
    assert ms_since_2000.to_raw(946_684_801) == 1_000
    assert ms_since_2000.to_unix(-1) == 946_684_799
    with pytest.raises(DoesNotFit, match="does not fit its 32 bits"):
        UNIX_32.to_raw(2**32)
    assert UNIX_32.to_raw(2**32 - 2) == 2**32 - 2
    for nothing, form in ((2**32 - 1, UNIX_32), (0, UNIX_32), (0, UNIX_64), (-1, UNIX_64)):
        with pytest.raises(DoesNotFit, match="mean that there is none"):
            form.to_raw(nothing)
    with pytest.raises(DoesNotFit):
        UNIX_32.to_raw(-1)
    assert is_absent(UNIX_32.all_ones, UNIX_32)
