"""Why a block's stamp does not say when a save was written, and what to do then."""

from __future__ import annotations

from typing import Final

from rtcsave.errors import StampUnusable
from rtcsave.layouts import ClockBlock
from rtcsave.when import dated

WAYS: Final = "say when it was saved (`saved_at`), or by how much to advance it (`advance_by`)"


def no_instant(block: ClockBlock) -> StampUnusable:
    """The error for a block whose stamp does not say when it was saved."""
    form, stamp = block.layout.stamp, block.stamp
    if form is None or stamp is None:
        return StampUnusable(f"layout {block.layout.name} has no stamp", remedy=WAYS)
    if block.stamp_absent:
        return StampUnusable("the stamp is absent", found=str(stamp), remedy=WAYS)
    return StampUnusable(
        "the stamp says no instant at which a save was written",
        found=f"{stamp} ({dated(form.to_unix(stamp)) or 'past the last date'})",
        expected="a date from 1995 on",
        remedy="`check` says what it may be and `plan_repair` repairs what is certain; else "
        + WAYS,
    )
