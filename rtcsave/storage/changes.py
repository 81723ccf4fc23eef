"""What is to be written, and what a write did: values, and no more."""

from __future__ import annotations

import os
from dataclasses import dataclass, field

from rtcsave.savefile import Origin, SaveFile
from rtcsave.storage.beside import check_keep


@dataclass(frozen=True, slots=True, kw_only=True)
class FileWritten:
    """What a write did: the path, the backup (None: none was made), and whether a byte changed.

    `lost` says what the new file could not keep of the old one (a second name, an owner); `left_over` are
    temporary files of ours and old backups that could not be removed.
    """

    path: str
    """The path, as it was given."""
    backup: str | None
    """The path of the backup, None where none was made."""
    changed: bool = True
    """Whether a byte of the file changed."""
    lost: tuple[str, ...] = ()
    left_over: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Written(FileWritten):
    """What `dump` did. `save` is the save as it now stands on the disk, ready for the next `dump`.

    `path`, `backup`, `changed`, `lost` and `left_over` are those of a `FileWritten`.
    """

    save: SaveFile = field(repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """Bytes that are to be put into a file, and what may be done to what is there.

    `origin` says what the file held when it was read; `times_ns` are the times to give it (None: those
    of writing); `kind` stands in the backup's name; `like` is the status whose mode a new file gets;
    `keep` is how many backups stay (None: all).
    """

    data: bytes
    path: str | os.PathLike[str]
    origin: Origin | None = None
    backup: bool = True
    overwrite: bool = False
    times_ns: tuple[int, int] | None = None
    kind: str = ""
    like: os.stat_result | None = None
    keep: int | None = None

    def __post_init__(self) -> None:
        check_keep(self.keep, self.backup)
