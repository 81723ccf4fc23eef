"""Clocks of zeros: both byte orders fit every word, and only the stamp tells them apart.

The full measurement is `tests/bench/zero_clocks.py`.
"""

from __future__ import annotations

import pytest
from bench.zero_clocks import measure
from known import HEALTHY48, HEALTHY48_BE, NOW, memory

from rtcsave import AmbiguousLayout, check, examine, loads

ZEROS = bytes(40)


@pytest.mark.parametrize("seed", [1, 2])
def test_no_future_stamp_is_read_in_the_wrong_order_in_silence(seed: int) -> None:
    assert measure(44, 150, seed)["wrong, silent"] == 0
    assert measure(48, 150, seed) == {"right": 150}


@pytest.mark.parametrize(
    ("stamp", "layout"),
    [
        # 1900000000 = 713FB300h = 2030-03-17T17:46:40Z; turned round it is beyond all dates
        ("00b33f7100000000", "block48"),
        ("00000000713fb300", "block48-be"),
        # turned round, 00B33F71h = 11747185 is 1970: no usable date, and the other one is
        ("00b33f71", "block44"),
        ("713fb300", "block44-be"),
    ],
)
def test_a_future_stamp_chooses_where_the_other_order_has_no_usable_date(
    stamp: str, layout: str
) -> None:
    save = loads(memory() + ZEROS + bytes.fromhex(stamp), now=NOW)
    assert save.clock_block.layout.name == layout
    assert [finding.code for finding in check(save, now=NOW)] == [
        "block-byte-order",
        "stamp-future",
    ]


def test_a_plausible_stamp_beside_a_usable_one_is_chosen_with_a_note() -> None:
    # 68D9AEC9h = 1759096521 is 2025-09-28; turned round, C9AED968h is 2077-03-22
    data = ZEROS + bytes.fromhex("68d9aec9")
    seen = examine(data, now=NOW)
    (note,) = seen.findings
    assert (note.code, note.severity, note.offset) == ("block-byte-order", "note", 40)
    assert note.found == "2025-09-28 21:55:21 UTC in block44-be, 2077-03-22 22:55:36 UTC in block44"
    assert "the stamp alone chose block44-be" in note.message
    assert [candidate.layout.name for candidate in seen.candidates] == ["block44-be", "block44"]
    assert examine(data, layout="block44-be", now=NOW).findings == ()  # named: nothing was chosen


def test_there_is_no_note_where_there_is_no_doubt() -> None:
    for data in (ZEROS + HEALTHY48[40:], ZEROS + HEALTHY48_BE[40:]):
        assert examine(data, now=NOW).findings == ()
    for data in (bytes(48), ZEROS + b"\xff" * 8):
        assert [finding.code for finding in examine(data, now=NOW).findings] == ["stamp-absent"]


def test_two_usable_stamps_in_the_future_stay_ambiguous() -> None:
    # 80000070h is 2038-01-19, 70000080h is 2029-07-18
    with pytest.raises(AmbiguousLayout):
        loads(ZEROS + bytes.fromhex("80000070"), now=NOW)
