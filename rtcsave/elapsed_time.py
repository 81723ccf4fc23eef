"""How much real time passed between two saves, and why two accounts of it differ."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, NamedTuple

from rtcsave.clocks import Clock
from rtcsave.errors import BadArgument, number_of
from rtcsave.savefile import SaveFile, check_save
from rtcsave.stamps import LOCAL_TIME_AHEAD_S
from rtcsave.units import DAY_S, MINUTE_S
from rtcsave.when import rfc3339, say_span, zones_that_changed

CRYSTAL_PPM: Final = 20
"""What a clock crystal may be off at 25 °C (CTS TF20 series: ±20 ppm)."""

ANY_CRYSTAL_PPM: Final = 200
"""What no clock crystal exceeds: ±20 ppm, ageing ±3 ppm, and at -40 °C or 85 °C a parabola of
-0.04 x 65² = -169 ppm (CTS TF20; ECS-3X8X)."""

ZONE_STEP_S: Final = 15 * MINUTE_S
"""Offsets of zones are multiples of a quarter of an hour (IANA tz: Kathmandu +05:45)."""

ZONE_SLACK_S: Final = 60
"""How far a shift between zones may be from such a multiple, at the most: more is no longer close
to one of the quarter hours, which are 900 s apart."""

ZONE_TRUNCATION_S: Final = 2
"""What truncation alone does to two readings and two stamps."""

STAMP_RESOLUTION_S: Final = 1

CANDIDATES: Final = 8
"""How many possibilities are listed when no stamp decides: eight periods are eleven years."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Elapsed:
    """Two accounts of the time between two saves, and the cause of their difference.

    `by_registers_s` is the difference of the readings modulo the clock's period, `by_stamps_s` that
    of the stamps (None if one is unusable); `overflows` reconciles them best. `elapsed_s` lies in
    `low_s` to `high_s`; without usable stamps it is None and `candidates_s` lists what is possible.
    `cause` is the first of `causes` that fits. `shift_s` (for `zone-shift`) is registers less
    stamps. `rate_ppm` with its certain bounds is for a drift; positive = the cartridge clock runs
    fast.
    """

    by_registers_s: int | None
    by_stamps_s: int | None
    overflows: int | None
    elapsed_s: int | None
    low_s: int | None
    high_s: int | None
    candidates_s: tuple[int, ...]
    cause: str
    causes: tuple[str, ...]
    shift_s: int | None
    rate_ppm: float | None
    low_ppm: float | None
    high_ppm: float | None
    explanation: str


class Account(NamedTuple):
    """The two saves as numbers: what the causes are judged by."""

    earlier: Clock
    later: Clock
    change_s: int
    by_stamps_s: int
    overflows: int
    earlier_unix_s: int
    later_unix_s: int

    @property
    def counted_s(self) -> int:
        """The registers' account, overflows included."""
        return self.change_s + self.later.period_s * self.overflows

    @property
    def rest_s(self) -> int:
        """What the registers' account exceeds the stamps' by."""
        return self.counted_s - self.by_stamps_s

    def within_ppm(self, ppm: int) -> bool:
        """Whether the rest is within so many millionths of the span."""
        return abs(self.rest_s) * 1_000_000 <= ppm * abs(self.by_stamps_s)

    @property
    def shift_s(self) -> int:
        """The multiple of a quarter of an hour that is nearest to the rest."""
        return round(self.rest_s / ZONE_STEP_S) * ZONE_STEP_S


def _halted(a: Account) -> bool:
    return a.earlier.halted and a.change_s == 0


def _consistent(a: Account) -> bool:
    return abs(a.rest_s) < 2 * a.later.resolution_s


def _zone_shift(a: Account) -> bool:
    if not a.shift_s or abs(a.shift_s) > LOCAL_TIME_AHEAD_S:
        return False
    slack_s = min(
        ZONE_TRUNCATION_S + CRYSTAL_PPM * 1e-6 * abs(a.by_stamps_s),
        ZONE_SLACK_S,
    )
    return abs(a.rest_s - a.shift_s) <= slack_s


def _reset(a: Account) -> bool:
    new_carry = a.later.carried and not a.earlier.carried
    return a.change_s < 0 and not new_carry and _reading_s(a.later) <= a.by_stamps_s


def _stopped(a: Account) -> bool:
    return a.rest_s < 0 <= a.counted_s


# In the order in which they are tried: the first that fits is the cause.
_CAUSES: Final[tuple[tuple[str, Callable[[Account], bool]], ...]] = (
    ("halted", _halted),
    ("consistent", lambda a: _consistent(a) and not a.overflows),
    ("overflow", lambda a: _consistent(a) and a.overflows > 0),
    ("drift", lambda a: a.within_ppm(CRYSTAL_PPM)),
    ("zone-shift", _zone_shift),
    ("drift", lambda a: a.within_ppm(ANY_CRYSTAL_PPM)),
    ("reset", _reset),
    ("stopped", _stopped),
)


def _reading_s(clock: Clock) -> int:
    return clock.as_time()[0].to_seconds()


def elapsed(earlier: SaveFile, later: SaveFile) -> Elapsed:
    """How much real time passed between two saves of one cartridge, by registers and by stamps.

    Registers past their proper range are read as the time that they say. `NoClock` where a save has
    no clock block, `BadArgument` where the clocks are of different kinds, `DoesNotFit` where the
    words of one say what no clock can hold.
    """
    for one in (earlier, later):
        check_save(one).clock_block.refuse_no_time()
    first, second = (one.clock_block.running for one in (earlier, later))
    if first.kind != second.kind:
        raise BadArgument(
            "the saves hold clocks of different kinds", found=f"{first.kind} and {second.kind}"
        )
    change_s = _reading_s(second) - _reading_s(first)
    period_s = second.period_s
    by_registers_s = change_s % period_s
    from_s, to_s = earlier.clock_block.usable_unix_s, later.clock_block.usable_unix_s
    if from_s is None or to_s is None:
        return _without_stamps(first, second, change_s, from_s is None)
    by_stamps_s = to_s - from_s
    overflows = max(0, round((by_stamps_s - change_s) / period_s))
    account = Account(first, second, change_s, by_stamps_s, overflows, from_s, to_s)
    causes = tuple(dict.fromkeys(name for name, fits in _CAUSES if fits(account)))
    causes = causes or ("set-by-hand",)
    cause = causes[0]
    shifted = cause == "zone-shift"
    elapsed_s = account.counted_s if shifted else by_stamps_s
    resolution_s = second.resolution_s if shifted else STAMP_RESOLUTION_S
    rate = _rate(account) if cause in ("drift", "consistent", "overflow") else (None, None, None)
    return Elapsed(
        by_registers_s=by_registers_s,
        by_stamps_s=by_stamps_s,
        overflows=overflows,
        elapsed_s=elapsed_s,
        low_s=elapsed_s - resolution_s,
        high_s=elapsed_s + resolution_s,
        candidates_s=(elapsed_s,),
        cause=cause,
        causes=causes,
        shift_s=account.shift_s if shifted else None,
        rate_ppm=rate[0],
        low_ppm=rate[1],
        high_ppm=rate[2],
        explanation=_explain(account, cause),
    )


def _without_stamps(first: Clock, second: Clock, change_s: int, earlier_is_it: bool) -> Elapsed:
    period_s = second.period_s
    fewest = change_s % period_s
    new_carry = second.carried and not first.carried
    why = "the fewest overflows the readings allow"
    if new_carry and change_s >= 0:
        fewest += period_s
        why = "carry is newly set, so the counter went over at least once"
    elif change_s < 0:
        why = "the later reading is the smaller, so the counter went over at least once"
        if not second.carried:
            why += ", or the clock was set back (carry is not set)"
    which = "earlier" if earlier_is_it else "later"
    return Elapsed(
        by_registers_s=change_s % period_s,
        by_stamps_s=None,
        overflows=None,
        elapsed_s=None,
        low_s=None,
        high_s=None,
        candidates_s=tuple(fewest + period_s * n for n in range(CANDIDATES)),
        cause="stamp-unusable",
        causes=("stamp-unusable",),
        shift_s=None,
        rate_ppm=None,
        low_ppm=None,
        high_ppm=None,
        explanation=f"the stamp of the {which} save is no use, so only the registers speak: "
        f"{say_span(fewest)}, or that and any number of {period_s // DAY_S} days more ({why})",
    )


def _rate(a: Account) -> tuple[float | None, float | None, float | None]:
    """The rate in ppm and the bounds that truncation leaves certain."""
    span_s = a.by_stamps_s
    if span_s < 0:  # given the wrong way round: the rate is the same
        return _rate(
            Account(
                a.later,
                a.earlier,
                -a.counted_s,
                -span_s,
                0,
                a.later_unix_s,
                a.earlier_unix_s,
            )
        )
    if not span_s:
        return None, None, None
    r_s = a.later.resolution_s
    low = ((a.counted_s - r_s) / (span_s + 1) - 1) * 1e6
    high = ((a.counted_s + r_s) / (span_s - 1) - 1) * 1e6 if span_s > 1 else None
    return a.rest_s / span_s * 1e6, low, high


def _explain(a: Account, cause: str) -> str:
    """The cause with its evidence, in a sentence."""
    stamps, registers = say_span(a.by_stamps_s), say_span(a.counted_s)
    rest = say_span(abs(a.rest_s))
    ahead = f"{rest} {'more' if a.rest_s > 0 else 'less'}"
    if cause == "halted":
        return f"halt was set and the registers did not move, while the stamps count {stamps}"
    if cause == "consistent":
        return f"registers and stamps both count {stamps}, within truncation"
    if cause == "overflow":
        fits = (
            "and carry is set, as it should be"
            if a.later.carried
            else ("but carry is not set: a program has cleared it, or the days are a coincidence")
        )
        times = number_of(a.overflows, "time")
        return f"the counter went over {times} in {stamps}, {fits}"
    if cause == "drift":
        rate, low, high = _rate(a)
        said = "" if rate is None else f": {rate:+.2f} ppm"
        if low is not None and high is not None:
            said += f" ({low:+.2f} to {high:+.2f})"
        inside = "within" if a.within_ppm(CRYSTAL_PPM) else "beyond"
        return (
            f"the registers count {ahead} than the stamps over {stamps}{said}, "
            f"{inside} the ±{CRYSTAL_PPM} ppm of a clock crystal; it means something only if both "
            "are dumps of the cartridge itself"
        )
    if cause == "zone-shift":
        return _explain_shift(a, registers)
    if cause == "reset":
        return (
            f"the registers went back, from {a.earlier.reading()} to {a.later.reading()}, without "
            f"a new carry, while the stamps count {stamps}: a new cell, or software that banks the "
            "days elsewhere and starts over"
        )
    if cause == "stopped":
        return (
            f"the registers count only {registers} of the stamps' {stamps}: for {rest} the cell "
            "was out, or the file was not running"
        )
    return (
        f"the registers say {registers} and the stamps {stamps}: nothing else explains {ahead}, so "
        "somebody set the clock"
    )


def _explain_shift(a: Account, registers: str) -> str:
    text = (
        f"the registers count {registers}, the stamps {say_span(-a.shift_s)} more than that: one "
        "stamp is local time, or the host's zone changed"
        if a.shift_s < 0
        else f"the registers count {registers}, the stamps {say_span(a.shift_s)} less than that: "
        "one stamp is local time, or the host's zone changed"
    )
    zones = zones_that_changed(a.earlier_unix_s, a.later_unix_s, -a.shift_s)
    between = f"between {rfc3339(a.earlier_unix_s)} and {rfc3339(a.later_unix_s)}"
    if zones:
        return f"{text}; a daylight-saving change would explain it: {zones[0]} changed {between}"
    return f"{text}; no daylight-saving change {between} explains it"
