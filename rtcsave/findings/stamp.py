"""Faults of the stamp. Each has one cause, judged once in `stamps`: the most specific code."""

from __future__ import annotations

from collections.abc import Iterator

from rtcsave.findings.entry import (
    FindingKind,
    See,
    Sighting,
    always,
    certain_in_block,
    repaired_in_block,
    seen_in_block,
)
from rtcsave.findings.scene import BlockScene
from rtcsave.savefile import SaveFile
from rtcsave.stamps import certain_reading
from rtcsave.when import dated, local_wall_to_unix, say_span

_SAY_WHEN = (
    "`plan_repair` with `saved_at` sets the stamp to when the save was written (`file-time` takes the "
    "file's own time; copying a file may change that)"
)


def _seen(code: str, message: str, expected: str) -> See:
    """A recogniser for stamps that were judged to have this kind."""

    def see(scene: BlockScene) -> Iterator[Sighting]:
        judged = scene.stamp_judged
        if judged is None or judged.code != code:
            return
        form, stamp = scene.layout.stamp, scene.block.stamp
        assert form is not None
        assert stamp is not None
        unix_s = form.to_unix(stamp)
        stamp_words = str(stamp)
        said = dated(unix_s)
        if code != "stamp-absent":
            stamp_words += f" ({said})" if said else " (no date can hold it)"
        text = message
        if said and code in ("stamp-future", "stamp-local-time"):
            text += f" by {say_span(unix_s - scene.file.now_s)}"
        if judged.readings:
            ways = "; ".join(
                f"{reading.words}: {dated(reading.unix_s)}" for reading in judged.readings
            )
            text += f" (plausible if read as {ways})"
        yield Sighting(
            message=text,
            offset=scene.offset + scene.layout.part("stamp")[0].offset,
            found=stamp_words,
            expected=expected,
        )

    return seen_in_block(see)


def _read_otherwise(scene: BlockScene) -> SaveFile | None:
    """The stamp as the user said, or as its only plausible reading has it."""
    if scene.file.saved_at_s is not None:
        return _said_by_user(scene)
    judged = scene.stamp_judged
    if judged is None or len(judged.readings) != 1:
        return None
    return scene.save.with_stamp(judged.readings[0].unix_s)


def _sure_reading(scene: BlockScene) -> bool:
    """Whether the user said when, or exactly one reading is plausible."""
    if scene.file.saved_at_s is not None:
        return True
    form, stamp = scene.layout.stamp, scene.block.stamp
    if form is None or stamp is None:
        return False
    return certain_reading(stamp, form, scene.file.now_s) is not None


def _said_by_user(scene: BlockScene) -> SaveFile | None:
    if scene.file.saved_at_s is None:
        return None
    return scene.save.with_stamp(scene.file.saved_at_s)


def _from_local_time(scene: BlockScene) -> SaveFile | None:
    """The stamp taken as this computer's local time, if that explains it."""
    if scene.file.saved_at_s is not None:
        return _said_by_user(scene)
    if scene.block.saved_unix_s is None:
        return None
    true_s = local_wall_to_unix(scene.block.saved_unix_s)
    if true_s is None or true_s > scene.file.now_s:
        return None
    return scene.save.with_stamp(true_s)


_A_DATE = "a date from 1995 to now, in seconds"

STAMP_KINDS = (
    FindingKind(
        code="stamp-absent",
        severity="warning",
        title="the stamp is 0 or all ones: nobody knows when the save was written",
        remedy=_SAY_WHEN,
        see=_seen("stamp-absent", "the stamp is absent", "the instant of writing"),
        repairs=repaired_in_block(_said_by_user),
        certain=always,
        saved_at="needed",
    ),
    FindingKind(
        code="stamp-milliseconds",
        severity="error",
        title="the stamp counts milliseconds",
        remedy="`plan_repair` divides it by 1000 where no other reading is plausible; else add "
        "`saved_at`",
        see=_seen("stamp-milliseconds", "the stamp seems to count milliseconds", _A_DATE),
        repairs=repaired_in_block(_read_otherwise),
        certain=certain_in_block(_sure_reading),
        saved_at="helps",
    ),
    FindingKind(
        code="stamp-upper-half",
        severity="error",
        title="the upper half of the 64-bit stamp is garbage",
        remedy="`plan_repair` clears the upper half where no other reading is plausible; else add "
        "`saved_at`",
        see=_seen("stamp-upper-half", "the upper half of the stamp is garbage", _A_DATE),
        repairs=repaired_in_block(_read_otherwise),
        certain=certain_in_block(_sure_reading),
        saved_at="helps",
    ),
    FindingKind(
        code="stamp-byte-order",
        severity="error",
        title="the stamp is in another byte order than the words",
        remedy="`plan_repair` turns its bytes round where no other reading is plausible; else add "
        "`saved_at`",
        see=_seen("stamp-byte-order", "the stamp is in the other byte order", _A_DATE),
        repairs=repaired_in_block(_read_otherwise),
        certain=certain_in_block(_sure_reading),
        saved_at="helps",
    ),
    FindingKind(
        code="stamp-other-epoch",
        severity="error",
        title="the stamp counts another unit or from another zero",
        remedy="`also=stamp-other-epoch` takes the reading where there is one; where "
        "there are several, say which by `saved_at` beside it",
        see=_seen("stamp-other-epoch", "the stamp counts in another way", _A_DATE),
        repairs=repaired_in_block(_read_otherwise),
        saved_at="helps",
    ),
    FindingKind(
        code="stamp-local-time",
        severity="warning",
        title="the stamp is up to 14 h in the future: perhaps local time",
        remedy="`also=stamp-local-time` takes it as this computer's local time, where "
        "that explains it, or with `saved_at` beside it sets what you say",
        see=_seen("stamp-local-time", "the stamp is in the future", "no later than now"),
        repairs=repaired_in_block(_from_local_time),
        saved_at="helps",
    ),
    FindingKind(
        code="stamp-future",
        severity="error",
        title="the stamp is in the future",
        remedy="check this computer's clock first; " + _SAY_WHEN,
        see=_seen("stamp-future", "the stamp is in the future", "no later than now"),
        repairs=repaired_in_block(_said_by_user),
        certain=always,
        saved_at="needed",
    ),
    FindingKind(
        code="stamp-early",
        severity="error",
        title="the stamp is before 1995",
        remedy=_SAY_WHEN,
        see=_seen("stamp-early", "the stamp is older than any such save", _A_DATE),
        repairs=repaired_in_block(_said_by_user),
        certain=always,
        saved_at="needed",
    ),
    FindingKind(
        code="stamp-unrepresentable",
        severity="error",
        title="no date can hold the stamp",
        remedy=_SAY_WHEN,
        see=_seen("stamp-unrepresentable", "the stamp lies beyond all dates", _A_DATE),
        repairs=repaired_in_block(_said_by_user),
        certain=always,
        saved_at="needed",
    ),
)
