"""A sequence of accesses as C arrays, for the code of a microcontroller."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from rtcsave.chips.accesses import Access
from rtcsave.chips.sequences import AccessSequence
from rtcsave.clocks import Clock
from rtcsave.when import rfc3339

_NONE: Final = 0xFFFF
"""The index that means no access."""

_TYPES: Final = """\
#include <stdint.h>

#ifndef CLOCK_ACCESS_TYPES
#define CLOCK_ACCESS_TYPES
enum clock_access_kind {
    CLOCK_WRITE,  /* write value; bits outside mask: those that access `keep` read */
    CLOCK_READ,   /* read; the bits of mask must be those that access `keep` read */
    CLOCK_EXPECT, /* read; the bits of mask must be those of value; with keep, the other bits
                     that count in that access must be as it read them */
    CLOCK_POLL    /* read until the bits of mask are those of value */
};

struct clock_access {
    uint16_t address;
    uint8_t kind, value, mask;
    uint16_t keep; /* the index of a read in the array of accesses, 0xFFFF for none */
};
#endif
"""


def c_array(steps: AccessSequence, clock: Clock) -> str:
    """The text of a C file: the types, what must be known as constants, and the arrays.

    Their names begin with the kind of clock and what they do, so that a clock may be read and written in one
    translation unit.
    """
    name = f"{steps.clock_kind}_{'read' if steps.due_index is None else 'write'}"
    if steps.due_index is None:
        lines = [f"/* Reads a {steps.clock_kind} clock. */"]
    else:
        lines = [f"/* Puts {clock.reading()} on a {steps.clock_kind} clock. */"]
    lines.append(_TYPES)
    spacing = f"#define {name.upper()}_SPACING_US {steps.spacing_us}"
    lines.append(f"{spacing} /* to leave between every two accesses */")
    if steps.due_index is not None:
        at = rfc3339(steps.at_unix_s)
        when = f"do this one at {at}" if at else "this one sets the clock going"
        lines.append(f"#define {name.upper()}_DUE {steps.due_index} /* {when} */")
    lines += _array(steps, f"{name}_accesses", steps.steps)
    lines += [
        "",
        "/* Where an access fails: do these, whatever they answer, but for those whose keep was not read. */",
    ]
    lines += _array(steps, f"{name}_closing", steps.closing)
    return "\n".join(lines)


def _array(steps: AccessSequence, name: str, accesses: Sequence[Access]) -> list[str]:
    count = f"{name.upper()}_COUNT"
    return [
        f"#define {count} {len(accesses)}",
        f"static const struct clock_access {name}[{count}] = {{",
        *(_row(steps, at, step) for at, step in enumerate(accesses)),
        "};",
    ]


def _row(steps: AccessSequence, at: int, step: Access) -> str:
    named = (index for index, other in enumerate(steps.steps) if other.name == step.keep != "")
    keep = next(named, _NONE)
    kind = f"CLOCK_{step.kind.upper()}"
    note = (step.note or step.name).replace("*/", "* /")
    due = "DUE: " if step.due and steps.at_unix_s is not None else ""
    return (
        f"    {{0x{step.address:04X}, {kind}, 0x{step.value or 0:02X}, 0x{step.mask:02X}, 0x{keep:04X}}}, "
        f"/* {at}: {due}{note} */"
    )
