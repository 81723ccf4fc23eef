"""Every finding: reported for its fault and for no other."""

from __future__ import annotations

import pytest
from bench import power_up
from known import (
    HEALTHY44,
    HEALTHY48,
    HEALTHY48_BE,
    NOW,
    REGISTERS5,
    REGISTERS10,
    STAMP,
    memory,
    patched,
)

from rtcsave import Finding, check, examine, loads
from rtcsave.findings import FINDINGS, SEVERITIES


def findings_of(data: bytes, now: int = NOW) -> list[Finding]:
    return list(examine(data, now=now).findings)


def codes(data: bytes, now: int = NOW) -> list[str]:
    return [finding.code for finding in findings_of(data, now)]


@pytest.mark.parametrize(
    "data", [HEALTHY44, HEALTHY48, HEALTHY48_BE, REGISTERS5, REGISTERS10, b""], ids=len
)
def test_nothing_is_said_of_a_healthy_save(data: bytes) -> None:
    for front in (memory(256), memory(131_072), b""):
        whole = front + data
        if not whole or (front and len(data) in (5, 10)):
            continue
        assert codes(whole) == []
        assert check(loads(whole, now=NOW), now=NOW) == ()


def test_unused_memory_that_is_blank_is_ordinary() -> None:
    assert codes(b"\x01" + b"\xff" * 2_047 + HEALTHY48) == []
    assert codes(b"\x01" + b"\x00" * 2_047 + HEALTHY48) == []


A_DATE = "a date from 1995 to now, in seconds"

# One case a code: the bytes, then offset, found and expected as they are to be said.
CASES = {
    "register-past-range": (
        patched(HEALTHY48, 8, "1d"),
        (2_056, "29", "0 to 23"),
    ),
    "register-stray-bits": (
        patched(HEALTHY48, 4, "2800a500"),
        (2_052, "00A50028h (stray: 00A50000h)", "no bit outside 3Fh"),
    ),
    "register-halted": (patched(HEALTHY48, 16, "41"), (2_064, "halt on", "halt off")),
    "register-carry": (patched(HEALTHY48, 16, "81"), (2_064, "carry on", "carry off")),
    "latched-past-range": (patched(HEALTHY48, 24, "3c"), (2_072, "60", "0 to 59")),
    "latched-later": (
        patched(HEALTHY48, 32, "2d"),
        (2_068, "latched 301d13:39:58, running 300d13:40:07", "latched no later than running"),
    ),
    "stamp-absent": (patched(HEALTHY48, 40, "00" * 8), (2_088, "0", "the instant of writing")),
    "stamp-future": (
        patched(HEALTHY48, 40, "e49af869"),
        (2_088, "1777900260 (2026-05-04 13:11:00 UTC)", "no later than now"),
    ),
    "stamp-local-time": (
        patched(HEALTHY48, 40, "f4b0b169"),
        (2_088, "1773252852 (2026-03-11 18:14:12 UTC)", "no later than now"),
    ),
    "stamp-early": (
        patched(HEALTHY48, 40, "ffe7052f"),
        (2_088, "788916223 (1994-12-31 23:23:43 UTC)", A_DATE),
    ),
    "stamp-milliseconds": (
        patched(HEALTHY48, 40, "a0de19d89c010000"),
        (2_088, "1773152100000 (no date can hold it)", A_DATE),
    ),
    "stamp-upper-half": (
        patched(HEALTHY48, 40, "6427b069efbeadde"),
        (2_088, "-2401053090838993052 (no date can hold it)", A_DATE),
    ),
    "stamp-byte-order": (
        patched(HEALTHY48, 40, "0000000069b02764"),
        (2_088, "7216930892902563840 (no date can hold it)", A_DATE),
    ),
    "stamp-other-epoch": (
        patched(HEALTHY48, 40, "e435d7e5"),
        (2_088, "3856086500 (2092-03-11 15:08:20 UTC)", A_DATE),
    ),
    "stamp-unrepresentable": (
        patched(HEALTHY48, 40, "ffffffffffffff7f"),
        (2_088, "9223372036854775807 (no date can hold it)", A_DATE),
    ),
    "block-cut-short": (HEALTHY48[:29], (2_048, "29 bytes: 7 whole words of 11", "48 bytes")),
}  # fmt: skip


@pytest.mark.parametrize("code", CASES)
def test_a_fault_is_seen_and_not_taken_for_another(code: str) -> None:
    block, (offset, what, expected) = CASES[code]
    ((finding),) = findings_of(memory() + block)
    assert (finding.code, finding.offset, finding.found, finding.expected) == (
        code,
        offset,
        what,
        expected,
    )
    assert finding.message
    assert finding.remedy
    assert finding.severity in SEVERITIES


def test_memory_blank() -> None:
    for byte in (b"\xff", b"\x00"):
        (finding,) = findings_of(byte * 512 + HEALTHY48)
        assert (finding.code, finding.offset) == ("memory-blank", 0)
        assert finding.found == f"512 bytes of {byte[0]:02X}h"
        assert codes(byte * 512) == ["memory-blank"]


@pytest.mark.parametrize("width", [1, 2, 4, 8, 128])
def test_stripes_are_a_note_and_never_an_error(width: int) -> None:
    stripes = (bytes(width) + b"\xff" * width) * (2_048 // (2 * width))
    (finding,) = findings_of(patched(stripes, 5, "10") + HEALTHY48)
    assert (finding.code, finding.severity, finding.offset) == ("memory-power-up", "note", 0)
    assert finding.found == "2,048 bytes, nearly all of them 00h or FFh"


@pytest.mark.parametrize(
    "image",
    [
        memory(),
        bytes(1_024) + b"\xff" * 1_024,  # filled in two parts
        (bytes(100) + b"\xff" * 4) * 20 + bytes(100),  # one fill, with ends of lists
        b"\xaa\x55" * 1_024,
        (bytes(32) + b"\xff" * 32) * 2 + memory(128),
    ],
)
def test_what_a_game_may_have_written_is_no_power_up(image: bytes) -> None:
    assert "memory-power-up" not in codes(image[: len(image) // 256 * 256] + HEALTHY48)


@pytest.mark.parametrize(
    ("kind", "least", "most"),
    [
        ("random bytes", 0, 0),
        ("text", 0, 0),
        ("sparse saves", 0, 4),
        ("slots, most of them cleared or never written", 0, 1),
        ("flags by chance", 0, 0),
        ("power-up, runs", 72, 80),
        ("power-up, stripes", 80, 80),
    ],
)
def test_how_often_an_image_is_taken_for_unpowered(kind: str, least: int, most: int) -> None:
    assert least <= power_up.taken(kind, 80) <= most


def test_an_overflow_since_the_stamp() -> None:
    # day 300, 13:40:07: 212 days less that time of day to go, from 2026-03-10T14:15:00Z
    due = STAMP + 44_236_800 - 25_969_207
    assert codes(HEALTHY48, due - 1) == []
    (finding,) = findings_of(HEALTHY48, due)
    assert finding.code == "register-overflow-since-stamp"
    assert finding.found == "1 overflow, the first at 2026-10-08 00:34:53 UTC"
    (finding,) = findings_of(HEALTHY48, due + 44_236_800)
    assert finding.found.startswith("2 overflows")
    assert "register-overflow-since-stamp" not in codes(patched(HEALTHY48, 16, "41"), due)


def test_a_latched_time_from_before_an_overflow_is_ordinary() -> None:
    overflowed = patched(HEALTHY48, 12, "0000000080")  # day 0, carry; latched still day 300
    assert codes(overflowed) == ["register-carry"]


def test_a_latched_time_from_before_a_further_overflow_is_ordinary_too() -> None:
    # carry was set before already: sticky, so it does not say when
    again = patched(patched(HEALTHY48, 12, "0000000080"), 36, "81")
    assert codes(again) == ["register-carry"]


def test_every_register_out_of_range_is_named_by_itself() -> None:
    data = patched(patched(patched(HEALTHY48, 0, "3c"), 4, "3f"), 8, "18")
    assert [(finding.code, finding.offset) for finding in findings_of(data)] == [
        ("register-past-range", 0),
        ("register-past-range", 4),
        ("register-past-range", 8),
    ]


def test_big_endian_offsets_are_those_of_the_word() -> None:
    (finding,) = findings_of(patched(HEALTHY48_BE, 3, "3d"))
    assert (finding.code, finding.offset, finding.found) == ("register-past-range", 0, "61")


def test_codes_are_unique_and_every_entry_has_its_words() -> None:
    assert len({fault.code for fault in FINDINGS.values()}) == len(FINDINGS.values())
    for fault in FINDINGS.values():
        family = fault.code.partition("-")[0]
        assert family in ("register", "latched", "stamp", "block", "memory", "wrapped")
        assert fault.title
        assert fault.remedy
        assert fault.severity in SEVERITIES


def test_examine_says_why_the_bytes_are_no_save() -> None:
    seen = examine(b"\xa5" * 100, now=NOW)
    assert seen.save is None
    assert seen.findings == ()
    assert type(seen.refusal).__name__ == "UnknownLength"
    seen = examine(b"", now=NOW)
    assert type(seen.refusal).__name__ == "EmptyFile"
    seen = examine(bytes(40) + bytes.fromhex("0100000000000000"), now=NOW)
    assert type(seen.refusal).__name__ == "AmbiguousLayout"
    assert [candidate.layout.name for candidate in seen.candidates] == ["block48", "block48-be"]
