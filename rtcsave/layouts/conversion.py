"""The same clock in another layout: what is carried over, and what the other layout cannot hold."""

from __future__ import annotations

from typing import NamedTuple

from rtcsave.clocks import Clock
from rtcsave.errors import DoesNotFit
from rtcsave.layouts.codec import codec
from rtcsave.layouts.fields import CLOCK_PARTS, ClockPart
from rtcsave.layouts.table import Layout
from rtcsave.stamps import is_absent


class Drops(NamedTuple):
    """What may be let go: a stamp, latched registers, unknown bytes."""

    stamp: bool = False
    latched: bool = False
    unknown: bool = False


def converted(old: Layout, raw: bytes, new: Layout, drop: Drops) -> bytes:
    """The bytes of a block in another layout, made from its blank; `DoesNotFit` as `with_layout` says."""
    if old.clock != new.clock:
        raise DoesNotFit(
            f"layout {new.name} holds a {new.clock} clock",
            found=f"a {old.clock} clock in layout {old.name}",
            remedy="clocks of different kinds cannot be converted",
        )
    if not drop.unknown:
        _refuse_unknown(old, raw, new)
    result = codec(new).blank()
    for part in CLOCK_PARTS:
        result = _carried(old, raw, new, result, part)
    _refuse_lost(old, raw, new, result, drop)
    return _stamped(old, raw, new, result, drop)


def _refuse_unknown(old: Layout, raw: bytes, new: Layout) -> None:
    """Refuse to lose bytes that no word describes, or constants and a checksum that are wrong."""
    if codec(old).wrong_constants(raw) or codec(old).checksum_wrong(raw):
        raise DoesNotFit(
            f"the block does not hold what layout {old.name} says is always there",
            found="other constant bytes, or another checksum",
            remedy="check that it is that layout and repair it first, or go on all the same "
            "(`drop_unknown`)",
        )
    unknown = codec(old).undescribed(raw)
    if unknown:
        raise DoesNotFit(
            f"layout {old.name} does not say what some bytes mean, so {new.name} has no place for them",
            found="bytes " + ", ".join(str(at) for at in unknown),
            expected="zeros there",
            remedy="describe them, or drop them if they are not needed (`drop_unknown`)",
        )


def _refuse_lost(old: Layout, raw: bytes, new: Layout, result: bytes, drop: Drops) -> None:
    """Refuse to lose latched registers of their own, or a field of the clock."""
    running, latched = codec(old).clock_in(raw, "running"), codec(old).clock_in(raw, "latched")
    new_running, new_latched = (codec(new).clock_in(result, part) for part in CLOCK_PARTS)
    let_go = "drop them if they are not needed (`drop_latched`)"
    if latched is not None and not drop.latched:
        if new_latched is None and latched != running:
            raise DoesNotFit(
                f"layout {new.name} has no latched registers",
                found="latched registers that differ from the running ones",
                remedy=let_go,
            )
        if new_latched not in (None, latched):
            raise DoesNotFit(
                f"layout {new.name} cannot hold all of the latched registers", remedy=let_go
            )
    if running is not None and new_running is not None and new_running != running:
        raise DoesNotFit(
            f"layout {new.name} cannot hold all of this clock",
            found=running.reading() + ", " + lost_fields(running, new_running),
            expected="every field of it",
        )


def _carried(old: Layout, raw: bytes, new: Layout, result: bytes, part: ClockPart) -> bytes:
    """The result with one part of the clock in it, word by word where the words are alike."""
    source: ClockPart = part if old.part(part) else "running"
    words, targets = old.part(source), new.part(part)
    if [word.bits for word in words] == [target.bits for target in targets]:
        for word, target in zip(words, targets, strict=True):
            value = codec(old).word(raw, word)
            if value >> 8 * target.size or (new.standalone and value & ~target.mask):
                raise _stray(new, word.name, value, f"no bit outside {target.mask:X}h")
            result = codec(new).put_word(result, target, value)
        return result
    for word in words:
        stray = codec(old).word(raw, word) & ~word.mask
        if stray:
            raise _stray(new, word.name, stray, "no bit past a register's width")
    clock = codec(old).clock_in(raw, source)
    return result if clock is None else codec(new).put_clock(result, part, clock)


def _stray(new: Layout, name: str, value: int, expected: str) -> DoesNotFit:
    return DoesNotFit(
        f"layout {new.name} cannot hold the stray bits of {name}",
        found=f"{value:X}h",
        expected=expected,
        remedy="repair the save first: its plan clears them",
    )


def _stamped(old: Layout, raw: bytes, new: Layout, result: bytes, drop: Drops) -> bytes:
    """The result with the stamp of the old block, absent where that was absent."""
    stamp, form = codec(old).stamp_in(raw), new.stamp
    if old.stamp is None or stamp is None:
        return result
    absent = is_absent(stamp, old.stamp)
    let_go = "drop the stamp if it is not needed (`drop_stamp`)"
    if form is None:
        if absent or drop.stamp:
            return result
        raise DoesNotFit(f"layout {new.name} has no stamp", found=f"stamp {stamp}", remedy=let_go)
    if absent:
        return codec(new).put_stamp(result, 0 if stamp == 0 else form.all_ones)
    try:
        return codec(new).put_stamp(result, form.to_raw(old.stamp.to_unix(stamp)))
    except DoesNotFit as error:
        if drop.stamp:
            return codec(new).put_stamp(result, 0)
        error.where, error.remedy = f"layout {new.name}", let_go
        raise


def lost_fields(before: Clock, after: Clock) -> str:
    """The fields that one clock has and another has not, in words."""
    old, new = before.values(), after.values()
    return ", ".join(f"{name} {old[name]}" for name in old if old[name] != new[name])
