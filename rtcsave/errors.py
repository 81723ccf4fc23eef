"""Every error of the library, sorted by who is at kind: the file, the call, or the system.

A fourth family holds the refusals: nothing is wrong with the file or the call, but going on
would lose something. All derive from `RtcSaveError`; `str(error)` reads
"what, where, found, expected, what to do next", leaving out what does not apply.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

TYPE_CHECKING = False
if TYPE_CHECKING:  # help needs no types, and they take a fifth of a start
    from typing import Final

LONGEST_SHOWN: Final = 80

_UNSEEN: Final = frozenset({"Cc", "Cf", "Cs", "Zl", "Zp"})
"""Unicode's classes of characters that steer a terminal or a line and show nothing themselves."""


def escaped(text: str) -> str:
    """A text from elsewhere as one line that steers nothing: such characters as `\\x1b`, `\\u202e`.

    Control characters, line and paragraph ends, marks of direction and surrogates that stand alone; all else
    stays.
    """
    if text.isascii() and text.isprintable():
        return text
    import unicodedata  # seldom needed, and not quick to load

    return "".join(
        character.encode("unicode_escape").decode("ascii")
        if unicodedata.category(character) in _UNSEEN
        else character
        for character in text
    )


def shown(value: object) -> str:
    """A caller's value for a message: short, whatever it is."""
    try:
        text = repr(value)
    except Exception:  # numbers of thousands of digits, and whatever a caller's type may do
        return f"a value of type {type(value).__name__} that cannot be shown"
    return text if len(text) <= LONGEST_SHOWN else f"{text[:LONGEST_SHOWN]}..."


def number_of(number: int, noun: str) -> str:
    """A number of things in words, for messages: `1 step`, `2 steps`."""
    return f"{number:,} {noun}{'' if number == 1 else 's'}"


class RtcSaveError(Exception):
    """The one to catch: whatever the library itself reports derives from it.

    `what`, `where`, `found`, `expected` and `remedy` are the parts of the message, each a string
    (empty where there is nothing to say).
    """

    def __init__(
        self,
        what: str,
        *,
        where: str = "",
        found: str = "",
        expected: str = "",
        remedy: str = "",
    ) -> None:
        super().__init__(what)
        self.what = what
        self.where = where
        self.found = found
        self.expected = expected
        self.remedy = remedy

    def __str__(self) -> str:
        parts = [self.what]
        if self.where:
            parts.append(self.where)
        if self.found:
            parts.append(f"found {self.found}")
        if self.expected:
            parts.append(f"expected {self.expected}")
        text = ", ".join(parts)
        return f"{text}; {self.remedy}" if self.remedy else text


class FileFault(RtcSaveError):
    """The file is not what was asked for."""


class UnknownLength(FileFault):
    """The length is not that of a memory image, of an image with a block, or of a standalone block."""


class EmptyFile(UnknownLength):
    """There is not a single byte."""


class NotAClockBlock(UnknownLength):
    """The length would fit if its last bytes were a clock block, and they are not."""


class BlockCutShort(FileFault):
    """What follows the memory image looks like the beginning of a clock block."""


class AmbiguousLayout(FileFault):
    """The bytes read differently in several layouts, and nothing in them decides.

    `candidates` holds the names of those layouts.
    """

    candidates: tuple[str, ...] = ()

    def with_candidates(self, candidates: Iterable[str]) -> AmbiguousLayout:
        """Return this error carrying the names of the layouts that it could not choose between."""
        self.candidates = tuple(candidates)
        return self


class NoClock(FileFault):
    """The save holds no clock block, and what was asked needs one."""


class NotARegularFile(FileFault):
    """A folder, a pipe, a device or a socket stands where a file was expected."""


class TooLarge(FileFault):
    """The file is larger than any save; it was refused by its size, unread."""


class BadDescription(FileFault, ValueError):
    """A description of a layout does not hold together."""


class BadArgument(RtcSaveError, ValueError):
    """The call itself is wrong: a value of the wrong type, out of its range, or contradictory."""


class Refused(RtcSaveError):
    """Nothing was done, because doing it would lose something."""


class StampUnusable(Refused):
    """The stamp does not say when the clock was saved, so there is nothing to advance from."""


class DoesNotFit(Refused):
    """A value does not fit where it is to go."""


class WouldOverflow(Refused):
    """A shift would carry the day counter past either end."""


class WouldOverwrite(Refused):
    """Another file stands where the result was to go."""


class ChangedUnderneath(Refused):
    """The file is no longer the one that was read: another program wrote it meanwhile."""


class NotTaken(RtcSaveError):
    """A clock on a bus did not answer as it should.

    `access` is the number of the access, from 1, `register` the name of what it was for, and
    `expected_value` and `found_value` are the bytes, where there are such.
    """

    access: int | None = None
    register: str = ""
    expected_value: int | None = None
    found_value: int | None = None


class SystemFailed(RtcSaveError, OSError):
    """The system did not do what was asked: no permission, disk full, held open, vanished.

    `errno` and `filename` are those of the system's own error, where it gave one.
    """


class FileMissing(SystemFailed, FileNotFoundError):
    """There is no such file, or no such folder."""


class NoBackup(FileFault):
    """There is no backup that could be put back."""


def refuse_wrong_types(part: object, types: Mapping[str, type]) -> None:
    """Raise `BadDescription` where an attribute of a table's part is of another type than it has to be."""
    for name, kind in types.items():
        value = getattr(part, name)
        if type(value) is not kind:
            raise BadDescription(
                f"{name} of a {type(part).__name__} has the wrong type",
                found=shown(value),
                expected=kind.__name__,
            )
