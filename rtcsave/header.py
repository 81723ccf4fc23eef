"""What the header of a program image promises: which clock, and how much memory.

Offsets, hardware codes, memory codes and the checksum: Pan Docs, "The Cartridge Header".
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, NamedTuple

from rtcsave.buffers import Buffer, as_bytes
from rtcsave.errors import UnknownLength, number_of

HEADER_END: Final = 0x150
TITLE_AT: Final = slice(0x134, 0x143)
HARDWARE_AT: Final = 0x147
MEMORY_AT: Final = 0x149
CHECKSUM_AT: Final = 0x14D
_SUMMED: Final = slice(0x134, 0x14D)

MEMORY_BYTES: Final = {0x00: 0, 0x02: 8_192, 0x03: 32_768, 0x04: 131_072, 0x05: 65_536}
"""Memory by the code at 0149h; any other value, 01h too, is unknown."""


class Hardware(NamedTuple):
    """What a hardware code says: the kind of clock (None: none), and memory of its own.

    `own_bytes` is the memory that the code alone fixes, whatever 0149h says; None: 0149h says it.
    """

    clock: str | None = None
    own_bytes: int | None = None


_NOTHING: Final = (0x00, 0x01, 0x02, 0x05, 0x08, 0x0B, 0x0C, 0x11, 0x12, 0x19, 0x1A, 0x1C, 0x1D)
_MEMORY: Final = (0x03, 0x09, 0x0D, 0x13, 0x1B, 0x1E, 0x20, 0xFF)

HARDWARE: Final[dict[int, Hardware]] = {
    **{code: Hardware(own_bytes=0) for code in _NOTHING},
    **{code: Hardware() for code in _MEMORY},
    0x06: Hardware(own_bytes=512),  # 512 half-bytes in the mapper itself
    0x0F: Hardware(clock="counter", own_bytes=0),
    0x10: Hardware(clock="counter"),
    0x22: Hardware(own_bytes=256),  # a serial EEPROM
    0xFC: Hardware(own_bytes=131_072),  # a camera
    0xFD: Hardware(clock="calendar"),
    0xFE: Hardware(clock="minutes"),
}
"""Every hardware code that the source names. 20h also has a flash chip, not in the save."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Header:
    """What a header says: the hardware code, the kind of clock (None: none), the memory kept.

    `memory_bytes` is the size of the memory image that a save of it has: 0 where nothing is kept,
    None where the codes do not say. `known` is whether the hardware code is one that we know.
    """

    hardware_code: int
    """The byte at 0147h."""
    clock: str | None
    """The kind of clock, None for none."""
    memory_bytes: int | None
    checksum_ok: bool
    """Whether the header's checksum is right."""
    known: bool = True


def read_header(data: Buffer) -> Header:
    """The header in a program image (its first 336 bytes suffice).

    `UnknownLength` for fewer bytes; an unknown code gives `known=False` and no clock.
    """
    image = as_bytes(data, "a program image is bytes")[:HEADER_END]
    if len(image) < HEADER_END:
        raise UnknownLength(
            "the program image is too short to have a header",
            found=number_of(len(image), "byte"),
            expected=f"at least {HEADER_END:,} bytes",
            remedy="check that it is the program's image, not a save",
        )
    code = image[HARDWARE_AT]
    hardware = HARDWARE.get(code)
    memory_bytes = MEMORY_BYTES.get(image[MEMORY_AT])
    if hardware is not None and hardware.own_bytes is not None:
        memory_bytes = hardware.own_bytes
    return Header(
        hardware_code=code,
        clock=None if hardware is None else hardware.clock,
        memory_bytes=None if hardware is None else memory_bytes,
        checksum_ok=checksum(image) == image[CHECKSUM_AT],
        known=hardware is not None,
    )


def checksum(data: bytes) -> int:
    """The header's checksum: from 0, minus each byte of 0134h to 014Ch and one, the low 8 bits."""
    total = 0
    for byte in data[_SUMMED]:
        total = total - byte - 1
    return total & 0xFF
