"""The instant that a save's stamp gives to elapsed time, also where it must be read another way."""

from __future__ import annotations

from typing import NamedTuple

from rtcsave.layouts import ClockBlock
from rtcsave.stamps import certain_reading
from rtcsave.when import say_instant


class StampedAt(NamedTuple):
    """When a save was written (None: unknown), and what must be said about its stamp."""

    unix_s: int | None
    note: str


def instant_of(block: ClockBlock, name: str, now_s: int) -> StampedAt:
    """When the `name` ("earlier", "later") save was written, by its stamp."""
    usable_s = block.usable_unix_s
    if usable_s is not None and usable_s <= now_s:
        return StampedAt(usable_s, "")
    form, stamp = block.layout.stamp, block.stamp
    reading = None
    if form is not None and stamp is not None:
        reading = certain_reading(stamp, form, now_s)
    if reading is not None:
        said = say_instant(reading.unix_s)
        return StampedAt(
            reading.unix_s, f"The stamp of the {name} save is read as {reading.words}: {said}."
        )
    if usable_s is not None:
        return StampedAt(usable_s, f"The stamp of the {name} save is in the future.")
    if form is None:
        why = f"The layout of the {name} save has no stamp."
    elif block.stamp_absent:
        why = f"The stamp of the {name} save is absent."
    else:
        why = f"The stamp of the {name} save is unusable."
    return StampedAt(None, why)
