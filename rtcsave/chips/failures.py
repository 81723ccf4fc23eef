"""What is said where a clock on a bus does not answer as it should."""

from __future__ import annotations

from typing import Final

from rtcsave.chips.accesses import Access
from rtcsave.errors import NotTaken

CONTACTS: Final = "check that the cartridge sits well, and clean the contacts"
DIFFERING: Final = (
    "two reads of one register differ: the clock ticked on meanwhile, or the contacts are bad"
)
UNCHANGED: Final = "the clock was not written yet"
SET_GOING: Final = "the clock was set going: read it to see what it shows"
IN_PART: Final = (
    "the clock was changed in part: until it is written again it may be stopped, or wrong"
)


def say_with(error: BaseException, words: str) -> None:
    """Say something more with an error: in what to do next of our own, as a note of another."""
    if isinstance(error, NotTaken):
        error.remedy = f"{error.remedy}; {words}"
    else:
        error.add_note(words)


def not_taken(
    what: str, step: Access, number: int, values: tuple[int | None, int | None], remedy: str
) -> NotTaken:
    """The error for an access that did not give what it should: the values found and expected."""
    found, expected = values
    error = NotTaken(
        f"{what} (access {number}, {step.name or step.note})",
        where=f"address {step.address:04X}h",
        found="" if found is None else f"{found:02X}h",
        expected="the clock's register" if expected is None else f"{expected:02X}h",
        remedy=remedy,
    )
    error.access, error.register = number, step.name
    error.expected_value, error.found_value = expected, found
    return error
