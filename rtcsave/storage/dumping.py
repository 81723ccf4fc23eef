"""Writing a save back: what it was read from is compared, and what nothing else says is kept as a time."""

from __future__ import annotations

import contextlib
import os

from rtcsave.savefile import Origin, SaveFile, dumps, read_from
from rtcsave.storage.changes import Written
from rtcsave.storage.reading import digest_of, path_text
from rtcsave.storage.system import real_path
from rtcsave.storage.writing import write


def dump(
    save: SaveFile,
    path: str | os.PathLike[str],
    *,
    backup: bool = True,
    keep: int | None = None,
    overwrite: bool = False,
) -> Written:
    """Write a save to a file: beside it first, synced, then put in its place in one step.

    Back to the path that the save was loaded from, the file is compared with what was read, and
    `ChangedUnderneath` raised if it differs; another file that exists raises `WouldOverwrite`
    unless `overwrite`. What is replaced is first copied beside it, under a name with the instant
    in it, unless `backup` is False. `keep` says how many of these copies stay: the newest, and beside
    them the first that this process made since it read the file (None: all stay). Equal bytes are not
    written and make no backup. `SystemFailed` where the system refuses; nothing is changed then. A
    symbolic link stays one: its target is written.

    Threads may write one file at the same time: of two that go on from the same save one wins, and the
    other gets `ChangedUnderneath`.

    Go on from the `save` of what is returned: it knows what is on the disk now. A save without a
    usable stamp gives the file the instant that it carries, else the time of the file that it was
    read from: that may be the only record of when it was written.

    A program that writes into the file while it is replaced gets its file back, and
    `ChangedUnderneath` is raised. Two instants remain in which its write would be lost: one that
    replaces the file between the last comparison and the replacement, and one that goes on to write
    into the old file after the last look.
    """
    data = dumps(save)
    written = write(
        data,
        path,
        origin=save.origin,
        backup=backup,
        keep=keep,
        overwrite=overwrite,
        times_ns=times_to_keep_ns(save),
    )
    target = real_path(path_text(path))
    modified_ns = 0
    with contextlib.suppress(OSError):
        modified_ns = os.stat(target).st_mtime_ns
    origin = Origin(
        path=os.path.abspath(path_text(path)), digest=digest_of(data), modified_ns=modified_ns
    )
    return Written(
        path=written.path,
        backup=written.backup,
        changed=written.changed,
        lost=written.lost,
        left_over=written.left_over,
        save=read_from(save, origin),
    )


def times_to_keep_ns(save: SaveFile) -> tuple[int, int] | None:
    """The times, in Unix nanoseconds, that the file of a save is given; None for the usual ones.

    Both are that of the last change. A clock without a usable stamp leaves the file's own time as the
    only trace of when it was saved.
    """
    block, origin = save.block, save.origin
    if block is None or block.usable_unix_s is not None:
        return None
    if save.carried_s is not None:
        kept_ns = save.carried_s * 10**9
    elif origin is not None:
        kept_ns = origin.modified_ns
    else:
        return None
    return kept_ns, kept_ns
