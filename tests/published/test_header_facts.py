"""The header of a program image against its published meaning."""

from __future__ import annotations

import pytest

from rtcsave import read_header


def program(hardware: int, memory_code: int = 0, checksum: int | None = None) -> bytes:
    """A program image that is no more than a header."""
    image = bytearray(0x150)
    image[0x134:0x13C] = b"TIDECLRK"
    image[0x147], image[0x149] = hardware, memory_code
    x = 0
    for byte in image[0x134:0x14D]:
        x = (x - byte - 1) & 0xFF
    image[0x14D] = x if checksum is None else checksum
    return bytes(image)


@pytest.mark.parametrize(
    ("hardware", "memory_code", "clock", "memory_bytes"),
    [
        # 0Fh and 10h carry the day-counter clock, 10h with memory
        (0x0F, 0x00, "counter", 0),
        (0x0F, 0x03, "counter", 0),
        (0x10, 0x03, "counter", 32_768),
        (0x10, 0x05, "counter", 65_536),
        # FEh the minute-of-day clock, FDh the calendar clock
        (0xFE, 0x03, "minutes", 32_768),
        (0xFD, 0x03, "calendar", 32_768),
        # battery-backed without a clock
        *[(code, 0x02, None, 8_192) for code in (0x03, 0x09, 0x0D, 0x13, 0x1B, 0x1E, 0xFF, 0x20)],
        (0x1B, 0x04, None, 131_072),
        (0xFC, 0x00, None, 131_072),  # a camera: 128 KiB
        (0x22, 0x00, None, 256),  # a serial EEPROM of 256 bytes
        (0x06, 0x00, None, 512),  # 512 half-bytes in the mapper itself
        # nothing is kept when switched off
        *[
            (code, 0x03, None, 0)
            for code in (0, 1, 2, 5, 8, 0x0B, 0x0C, 0x11, 0x12, 0x19, 0x1A, 0x1C, 0x1D)
        ],
        # any other memory code, 01h too, is unknown
        (0x10, 0x01, "counter", None),
        (0x10, 0x06, "counter", None),
        (0x10, 0x00, "counter", 0),
    ],
)
def test_what_a_hardware_code_promises(
    hardware: int, memory_code: int, clock: str | None, memory_bytes: int | None
) -> None:
    """Pan Docs, chapter on the cartridge header: 0147h says the hardware, 0149h the size of the
    memory."""
    found = read_header(program(hardware, memory_code))
    assert found.hardware_code == hardware
    assert (found.clock, found.memory_bytes, found.known) == (clock, memory_bytes, True)
    assert found.checksum_ok


def test_the_checksum() -> None:
    """Pan Docs, chapter on the cartridge header: 014Dh over 0134h-014Ch, x = x - byte - 1 for each."""
    image = bytearray(0x150)
    image[0x14D] = 0xE7  # 25 zero bytes give 256 - 25
    assert read_header(bytes(image)).checksum_ok
    image[0x14D] = 0xE6
    assert not read_header(bytes(image)).checksum_ok
