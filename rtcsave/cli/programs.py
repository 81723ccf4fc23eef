"""The option that names a program's image, whose header says what its save should hold."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from rtcsave.cli.console import Sheet
from rtcsave.storage.reading import read_start

if TYPE_CHECKING:
    from rtcsave.header import Header


def add_program(parser: argparse.ArgumentParser) -> None:
    """Let the program's image be named."""
    parser.add_argument(
        "--program",
        metavar="FILE",
        help="the program's image: its header says which clock and how much memory to expect",
    )


def program_header(path: str | None) -> Header | None:
    """The header of the program that was named, None if none was."""
    if path is None:
        return None
    from rtcsave.header import HEADER_END, read_header

    return read_header(read_start(path, HEADER_END))


def add_header_line(sheet: Sheet, header: Header | None) -> None:
    """What the header promises."""
    if header is None:
        return
    code = f"hardware code {header.hardware_code:02X}h"
    if not header.known:
        sheet.add("program", f"{code} is unknown", "warning")
    else:
        clock = "no clock" if header.clock is None else f"a {header.clock} clock"
        size = header.memory_bytes
        memory = "memory of unknown size" if size is None else f"{size:,} bytes of memory"
        sheet.add("program", f"{code}: {clock}, {memory if size != 0 else 'no memory'}")
    if not header.checksum_ok:
        sheet.add("", "the header's checksum is wrong: what it says may be too", "warning")
