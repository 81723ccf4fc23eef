"""Write the example saves beside this script, from nothing but the standard library.

The lending library of Harrow Quay, an invented town, lends battery-backed cartridges. Every save
here is one of its copies, with what time and handling did to its clock. Titles and story are
invented. The script uses no part of the package: what it writes stands on its own.

    python examples/saves/make_saves.py
"""

from __future__ import annotations

import io
import pathlib
import struct
import sys
import zipfile
import zlib
from collections.abc import Sequence

HERE = pathlib.Path(__file__).parent

SAVED = 1_773_152_100  # 2026-03-10T14:15:00Z, when the library took stock
LATER = SAVED + 200 * 86_400  # 2026-09-26T14:15:00Z, the autumn round
ABSENT = 0
FUTURE = 2_240_611_200  # 2041-01-01T00:00:00Z, written by a computer with a dead cell of its own


def image(title: str, size: int = 2_048) -> bytes:
    """A memory image: the title, a borrower's ledger of invented numbers, unused memory."""
    head = title.encode("ascii").ljust(32, b"\0")
    ledger = bytes((7 * i + len(title) + i // 13) % 251 for i in range(size // 4))
    return (head + ledger).ljust(size, b"\xff")


def registers(
    day: int, hour: int, minute: int, second: int, halt: int = 0, carry: int = 0
) -> tuple[int, ...]:
    """The five registers of a clock, as numbers."""
    return second, minute, hour, day & 0xFF, day >> 8 | halt << 6 | carry << 7


def block(
    running: Sequence[int],
    latched: Sequence[int],
    stamp: int,
    order: str = "<",
    stamp_format: str = "q",
) -> bytes:
    """Ten 32-bit words, running then latched registers, and a stamp."""
    return struct.pack(f"{order}10I{stamp_format}", *running, *latched, stamp)


def saves() -> dict[str, bytes]:
    """Every example save by its file name."""
    running = registers(212, 13, 40, 7)
    latched = registers(212, 13, 39, 58)
    lantern = image("LANTERN VALE COPY 3")
    ferry = image("FERRY LEDGER COPY 1")
    moth = image("MOTH ALMANAC COPY 2", 512)
    # 200 days later the crystal of copy 3 has gained 311 s: 18 ppm fast.
    drifted = registers(412, 13, 45, 18)
    stray = list(running)
    stray[1] |= 0x00A5_0000
    stray[4] |= 0x0000_0030
    return {
        "healthy.sav": lantern + block(running, latched, SAVED),
        "drifted.sav": lantern + block(drifted, drifted, LATER),
        "halted.sav": ferry
        + block(registers(31, 6, 0, 0, halt=1), registers(31, 6, 0, 0, 1), SAVED),
        "overflowed.sav": ferry
        + block(registers(3, 22, 10, 41, carry=1), registers(3, 22, 10, 30, carry=1), SAVED),
        "past-range.sav": lantern
        + block(registers(40, 29, 4, 61), registers(40, 29, 4, 60), SAVED),
        "stray-bits.sav": lantern + block(stray, latched, SAVED),
        "no-stamp.sav": ferry + block(running, latched, ABSENT),
        "future-stamp.sav": ferry + block(running, latched, FUTURE),
        "millisecond-stamp.sav": moth + block(running, latched, SAVED * 1000 + 250),
        "big-endian.sav": moth + block(running, latched, SAVED, order=">"),
        "block-of-44.sav": moth + block(running, latched, SAVED, stamp_format="I"),
        "no-block.sav": moth,
        "cut-short.sav": ferry + block(running, latched, SAVED)[:29],
        "blank-memory.sav": b"\xff" * 2_048 + block(running, latched, SAVED),
        "all-zero-block.sav": moth + bytes(48),
        "standalone-block.clock": block(running, latched, SAVED),
        **wild(lantern, ferry, running, latched),
    }


def wild(
    lantern: bytes, ferry: bytes, running: Sequence[int], latched: Sequence[int]
) -> dict[str, bytes]:
    """What the library found among its copies after years of transfers."""
    healthy = block(running, latched, SAVED)
    later = block(registers(215, 13, 40, 7), registers(215, 13, 39, 58), SAVED + 3 * 86_400)
    lines = ferry.replace(b"\xff" * 16, b"LENT OUT AGAIN\n\xff", 20)
    archive = io.BytesIO()
    with zipfile.ZipFile(archive, "w", zipfile.ZIP_STORED) as packed:
        packed.writestr(zipfile.ZipInfo("lantern.sav", (2026, 3, 10, 14, 15, 0)), lantern + healthy)
    body = b"HQ26" + bytes((0x07, 0x40, 0x13, 0xD4, 0x00, 0, 0, 0)) + struct.pack(">I", SAVED)
    return {
        "duplicate-block.sav": lantern + healthy + later,
        "padded.sav": lantern.ljust(32_768, b"\xff") + healthy,
        "mirrored.sav": lantern * 4 + healthy,
        "short.sav": lantern[:512] + healthy,
        "block-inside.sav": (lantern + healthy).ljust(8_192, b"\xff"),
        "unexpected-block.sav": lantern + healthy,
        "upper-half-stamp.sav": ferry + healthy[:44] + b"\xef\xbe\xad\xde",
        "other-order-stamp.sav": ferry + healthy[:40] + struct.pack(">q", SAVED),
        "microsecond-stamp.sav": ferry + block(running, latched, SAVED * 1_000_000),
        "exchanged-registers.sav": ferry + block(latched, running, SAVED),
        "latched-zero.sav": ferry + block(running, (0,) * 5, SAVED),
        "latched-later.sav": ferry + block(running, registers(213, 13, 0, 0), SAVED),
        "line-endings.sav": (lines + healthy).replace(b"\n", b"\r\n"),
        "packed.sav.gz": gzipped(lantern + healthy),
        "packed.sav.zip": archive.getvalue(),
        "workshop.sav": lantern + body + struct.pack("<I", zlib.crc32(body)),
        "workshop-damaged.sav": lantern + b"HQ25" + body[4:] + struct.pack("<I", zlib.crc32(body)),
        "with-clock.program": program(0x10, 0x02),
        "without-clock.program": program(0x03, 0x02),
    }


def gzipped(data: bytes) -> bytes:
    """A gzip member that stores its bytes uncompressed (RFC 1952, RFC 1951 section 3.2.4)."""
    head = b"\x1f\x8b\x08\x00" + struct.pack("<I", SAVED) + b"\x00\xff"
    stored = b"\x01" + struct.pack("<HH", len(data), len(data) ^ 0xFFFF) + data
    return head + stored + struct.pack("<II", zlib.crc32(data), len(data))


def program(hardware: int, memory_code: int) -> bytes:
    """The first bytes of a program image: an invented title and the header's codes and checksum."""
    image = bytearray(0x150)
    image[0x134:0x13F] = b"LANTERNVALE"
    image[0x147], image[0x149] = hardware, memory_code
    total = 0
    for byte in image[0x134:0x14D]:
        total = (total - byte - 1) & 0xFF
    image[0x14D] = total
    return bytes(image)


def main() -> int:
    """Write every save that is not there yet as it should be."""
    for name, data in saves().items():
        path = HERE / name
        if not path.exists() or path.read_bytes() != data:
            path.write_bytes(data)
            print(f"{name}: {len(data)} bytes")
    return 0


if __name__ == "__main__":
    sys.exit(main())
