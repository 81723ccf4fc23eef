"""The header of a program image: what is refused, and a save beside it."""

from __future__ import annotations

import pytest
from known import HEALTHY48, NOW, memory
from published.test_header_facts import program

from rtcsave import BadArgument, SaveFile, UnknownLength, check, loads, read_header

WHOLE = loads(memory(8_192) + HEALTHY48)


def test_an_unknown_code_is_said_to_be_so() -> None:
    """Assumed: nothing is concluded from a code that the source does not name."""
    header = read_header(program(0x77, 0x03))
    assert (header.known, header.clock, header.memory_bytes) == (False, None, None)


def test_what_is_no_program() -> None:
    with pytest.raises(UnknownLength, match="too short to have a header"):
        read_header(bytes(0x14F))
    with pytest.raises(BadArgument):
        read_header("x" * 0x150)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("save", "hardware", "memory_code", "codes"),
    [
        (WHOLE, 0x10, 0x02, []),
        (WHOLE.without_block(), 0x03, 0x02, []),
        (WHOLE.without_block(), 0x10, 0x02, ["block-missing"]),
        (WHOLE, 0x03, 0x02, ["block-unexpected"]),
        (WHOLE, 0xFE, 0x02, ["block-other-kind"]),
        (WHOLE, 0x10, 0x03, ["memory-short"]),
        (WHOLE.without_block(), 0x06, 0x00, ["memory-long"]),
        (WHOLE, 0x77, 0x02, []),
        (WHOLE, 0x10, 0x01, []),
    ],
)
def test_a_save_against_the_header(
    save: SaveFile, hardware: int, memory_code: int, codes: list[str]
) -> None:
    header = read_header(program(hardware, memory_code))
    assert [finding.code for finding in check(save, header, NOW)] == codes


def test_a_wrong_checksum_is_said_beside_what_rests_on_it() -> None:
    header = read_header(program(0x03, 0x02, checksum=0x99))
    (finding,) = check(WHOLE, header, NOW)
    assert "the header's checksum is wrong" in finding.message
