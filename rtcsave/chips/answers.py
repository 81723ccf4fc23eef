"""What the answers on a bus say: the clock in them, and what is doubtful about it."""

from __future__ import annotations

from collections.abc import Mapping

from rtcsave.chips.accesses import AGAIN, BEFORE
from rtcsave.chips.calendar_chip import TIMER_ENABLE
from rtcsave.chips.failures import CONTACTS, DIFFERING
from rtcsave.chips.replaying import FAILED_READINGS
from rtcsave.clocks import Clock
from rtcsave.errors import BadArgument, NotTaken, number_of, shown
from rtcsave.layouts.fields import CLOCKS


def clock_in(kind: str, found: Mapping[str, int]) -> Clock:
    """The clock of a kind in what was read; `NotTaken` where it is none."""
    registers = CLOCKS[kind].REGISTERS
    if not isinstance(found, Mapping):
        raise BadArgument("this is not what a sequence found", found=shown(found))
    missing = [r.name for r in registers if r.mask and r.name not in found]
    if missing:
        raise _refused(
            "registers were not read",
            missing[0],
            found=", ".join(sorted(found)) or "nothing",
            expected=", ".join(missing),
            remedy="replay a sequence that reads this kind of clock",
        )
    differing = [name for name in found if found.get(name + AGAIN, found[name]) != found[name]]
    if differing:
        raise _refused(
            DIFFERING,
            differing[0],
            found=", ".join(
                f"{name} {found[name]}, then {found[name + AGAIN]}" for name in differing
            ),
            remedy="read it again",
        )
    values = [found.get(register.name, 0) for register in registers]
    read = [v for v, register in zip(values, registers, strict=True) if register.mask]
    stray = [r.name for v, r in zip(values, registers, strict=True) if v & ~r.mask]
    if stray or set(read) in ({0x0F}, {0xFF}):
        raise _refused(
            "the answers are no clock: most likely nothing answers",
            stray[0] if stray else registers[0].name,
            found=", ".join(f"{name} {found[name]:02X}h" for name in stray)
            or f"{read[0]:02X}h everywhere",
            expected="no bit that the registers do not have",
            remedy=f"{CONTACTS}; it may have no such clock",
        )
    return CLOCKS[kind].from_registers(bytes(values))


def doubts_of(kind: str, found: Mapping[str, int]) -> tuple[str, ...]:
    """What is to be said of the clock of a kind in what was read, though it may be right."""
    clock = clock_in(kind, found)
    names = [register.name for register in clock.REGISTERS if register.mask]
    copied = [name for name in names if name + BEFORE in found]
    doubts: list[str] = []
    if not any(found[name] for name in names):
        doubts.append(
            "every register reads 0: that is a clock at zero, or nothing answers; read it again a second "
            "later, and check the contacts if it is still 0"
        )
    elif not clock.in_range:
        doubts.append(
            f"{clock.reading()} is no time of day or no date: a read was wrong, or the registers are out "
            "of range; read it again"
        )
    elif copied and all(found[name] == found[name + BEFORE] for name in copied):
        doubts.append(
            "the same time was copied before: that was less than a minute ago, or the copy failed, or a "
            "wrong bit set the clock back to that time; compare it with what you expect"
        )
    if not found.get("mode", TIMER_ENABLE) & TIMER_ENABLE:
        doubts.append("its timer is off: this clock is stopped")
    if found.get(FAILED_READINGS):
        failed = number_of(found[FAILED_READINGS], "reading")
        doubts.append(
            f"{failed} failed before this one: the bus is noisy, and a wrong bit in a command can change a "
            "clock; compare it with what you expect"
        )
    return tuple(doubts)


def _refused(what: str, register: str, *, found: str, remedy: str, expected: str = "") -> NotTaken:
    """The error for answers that are no clock, with the first register that shows it."""
    error = NotTaken(what, found=found, expected=expected, remedy=remedy)
    error.register = register
    return error
