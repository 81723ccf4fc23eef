"""Bytes that the tests know by heart: typed out, not made by the code under test.

The block of 48 bytes is ten 32-bit words, running then latched registers, and a 64-bit stamp
(common practice). It reads day 300 (256 + 44), 13:40:07 running and 13:39:58 latched, stamped
2026-03-10T14:15:00Z = 1773152100 = 69B02764h.
"""

from __future__ import annotations

STAMP = 1_773_152_100
NOW = STAMP + 86_400  # a day later: nothing about the healthy block is odd then

HEALTHY48 = bytes.fromhex(
    "07000000 28000000 0d000000 2c000000 01000000"
    "3a000000 27000000 0d000000 2c000000 01000000"
    "6427b06900000000"
)
HEALTHY44 = HEALTHY48[:44]
HEALTHY48_BE = bytes.fromhex(
    "00000007 00000028 0000000d 0000002c 00000001"
    "0000003a 00000027 0000000d 0000002c 00000001"
    "0000000069b02764"
)
HEALTHY44_BE = bytes.fromhex(
    "00000007 00000028 0000000d 0000002c 00000001"
    "0000003a 00000027 0000000d 0000002c 00000001"
    "69b02764"
)
REGISTERS5 = bytes.fromhex("07 28 0d 2c 01")
REGISTERS10 = bytes.fromhex("07 28 0d 2c 01 3a 27 0d 2c 01")
MINUTES12 = bytes.fromhex("08 02 03 0c 02 01 00 00 00 01 00 00")
CALENDAR26 = bytes.fromhex(
    "00 00 05 01 04 01 02 00 01 03 00 06 02 00 00 00 00 00 00 00 00 00 00 01 02 00"
)

# A description: constants, unknown bytes and a checksum around five registers and a stamp.
WORKSHOP = {
    "name": "bench",
    "size": 24,
    "constant": [{"offset": 0, "text": "CLK1"}],
    "field": [
        {"offset": 4, "holds": "seconds"},
        {"offset": 5, "holds": "minutes"},
        {"offset": 6, "holds": "hours"},
        {"offset": 7, "bytes": 2, "holds": "day_counter"},
    ],
    "stamp": {"offset": 12, "bytes": 4},
    "checksum": {"kind": "sum-16", "offset": 22, "to": 22},
}
# CLK1, 7 s, 40 min, 13 h, day 300, three unknown bytes, the stamp, six more, the sum of all of it

MEMORY_SIZES = (256, 512, 2_048, 8_192, 32_768, 65_536, 131_072)


def memory(size: int = 2_048) -> bytes:
    """A memory image with something in it."""
    return bytes(i * 31 % 251 for i in range(size))


def patched(data: bytes, offset: int, hexadecimal: str) -> bytes:
    """The same bytes with some replaced."""
    new = bytes.fromhex(hexadecimal)
    return data[:offset] + new + data[offset + len(new) :]
