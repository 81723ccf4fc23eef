"""A sequence of accesses as a C array, for the program of a microcontroller."""

from __future__ import annotations

from typing import Final

from rtcsave.chips.accesses import Access
from rtcsave.chips.sequences import AccessSequence
from rtcsave.clocks import Clock
from rtcsave.when import rfc3339

_NONE: Final = 0xFF
"""The index that stands for no access: a sequence with a bit to keep is shorter than that."""

_TYPES: Final = """\
#include <stdint.h>

enum clock_access_kind {
    CLOCK_WRITE,  /* write value; bits outside mask: those that access `keep` read */
    CLOCK_READ,   /* read, and keep what was read */
    CLOCK_EXPECT, /* read; the bits of mask must be those of value */
    CLOCK_POLL    /* read until the bits of mask are those of value */
};

struct clock_access {
    uint16_t address;
    uint8_t kind, value, mask, keep; /* keep: the index of an access, 0xFF for none */
};
"""


def c_array(steps: AccessSequence, clock: Clock) -> str:
    """The text of a C file: the types, what must be known as constants, and the array."""
    if steps.due_index is None:
        lines = [f"/* Reads a {steps.clock_kind} clock. */"]
    else:
        lines = [f"/* Puts {clock.reading()} on a {steps.clock_kind} clock. */"]
    lines += [_TYPES]
    lines += [
        f"#define CLOCK_SPACING_US {steps.spacing_us} /* to leave between every two accesses */",
        f"#define CLOCK_COUNT {len(steps)}",
    ]
    if steps.due_index is not None:
        at = rfc3339(steps.at_unix_s)
        when = f"do this one at {at}" if at else "this one sets the clock going"
        lines.append(f"#define CLOCK_DUE {steps.due_index} /* {when} */")
    lines += ["", "static const struct clock_access clock_accesses[CLOCK_COUNT] = {"]
    lines += [_row(steps, at, step) for at, step in enumerate(steps)]
    return "\n".join([*lines, "};"])


def _row(steps: AccessSequence, at: int, step: Access) -> str:
    keep = _NONE
    if step.keep:
        named = (index for index, other in enumerate(steps.steps[:at]) if other.name == step.keep)
        keep = next(named, _NONE)
    kind = f"CLOCK_{step.kind.upper()}"
    note = (step.note or step.name).replace("*/", "* /")
    due = "DUE: " if step.due and steps.at_unix_s is not None else ""
    return (
        f"    {{0x{step.address:04X}, {kind}, 0x{step.value or 0:02X}, 0x{step.mask:02X}, 0x{keep:02X}}}, "
        f"/* {at}: {due}{note} */"
    )
