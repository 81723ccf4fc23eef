"""What can have happened between two saves: one entry each, with what it supposes and predicts.

A prediction is the density per second of what the registers show beside the stamps, times the
probability of halt and carry. Priors and shares are assumptions, and are in this file only.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Final, NamedTuple

from rtcsave.elapsed_time.account import Account
from rtcsave.elapsed_time.likelihood import (
    carry_after_writing,
    carry_seen,
    log_uniform,
    part_of_span,
    setting,
)
from rtcsave.stamps import LOCAL_TIME_AHEAD_S
from rtcsave.units import DAY_S, HOUR_S, MINUTE_S

REVERSED_BY_S: Final = 15 * HOUR_S
"""Stamps that go back by more than any local time explains: the files are the wrong way round."""

QUARTER_S: Final = 15 * MINUTE_S
"""Offsets of zones are multiples of a quarter of an hour (IANA tz: Kathmandu +05:45)."""

_WHOLE_HOURS: Final = LOCAL_TIME_AHEAD_S // HOUR_S
ONE_HOUR: Final = 0.30
OTHER_HOUR: Final = 0.30 / (2 * (_WHOLE_HOURS - 1))
HALF_HOUR: Final = 0.06 / (2 * _WHOLE_HOURS)
QUARTER_HOUR: Final = 0.04 / (4 * _WHOLE_HOURS)
"""How usual a shift is, one sign of one length: summer time first, then zones."""

HALTED_FOR_DUMP: Final = 0.02
"""How often halt is set for the dump only, in one save or in both."""

STOPPED_THROUGHOUT: Final = 0.4
HALTED_THROUGHOUT: Final = 0.8
JUST_BANKED: Final = 0.5
"""How often a clock that was stopped, one that shows halt twice, and a game that banks the days did
so over the whole span: never ran, was never released, banked on the later save's own day."""

ALL_KINDS: Final = frozenset({"counter", "minutes", "calendar"})
COUNTERS: Final = frozenset({"counter", "minutes"})
DAY_COUNTER: Final = frozenset({"counter"})


class Prediction(NamedTuple):
    """How well an entry predicts what is seen, and what follows from it.

    `rest_s` is what the registers count beyond the real time where that is the crystal's doing;
    `amount_s` the length of the stop, the setting, the time since the restart, the days banked.
    """

    likelihood: float
    elapsed_s: int
    overflows: int | None = None
    rest_s: int | None = None
    shift_s: int | None = None
    amount_s: int = 0


class Entry(NamedTuple):
    """One explanation: its cause, the variant that a sentence needs, what it supposes, the kinds of
    clock that it can speak of, how usual it is, and its predictions."""

    cause: str
    variant: str
    supposes: str
    kinds: frozenset[str]
    prior: float
    predict: Callable[[Account], Iterator[Prediction]]


def _halt_for_dump(account: Account) -> float:
    return HALTED_FOR_DUMP if any(account.halts) else 1.0


def _untouched(account: Account) -> Iterator[Prediction]:
    if not account.in_order:
        return
    carry = carry_seen(*account.carries, account.overflows > 0)
    yield Prediction(
        account.blur.at(account.rest_s) * carry * _halt_for_dump(account),
        account.by_stamps_s,
        account.overflows,
        account.rest_s,
    )


def _heaviest(
    account: Account, densities: Iterator[tuple[float, int, int]], factor: float
) -> Iterator[Prediction]:
    """One prediction from the densities of several numbers of overflows: (density, overflows,
    amount in seconds). The heaviest names the overflows."""
    total, best = 0.0, (0.0, 0, 0)
    for density, overflows, amount_s in densities:
        weighed = density * carry_seen(*account.carries, overflows > 0)
        total += weighed
        best = max(best, (weighed, overflows, amount_s))
    if total > 0:
        yield Prediction(total * factor, account.by_stamps_s, best[1], amount_s=best[2])


def _stops(account: Account, throughout: float) -> Iterator[tuple[float, int, int]]:
    """The density of a stop, for every number of overflows that fits."""
    resolution_s = account.later.resolution_s
    for overflows in account.fitting_overflows:
        counted_s = account.change_s + overflows * account.later.period_s
        length_s = account.span_s - counted_s
        density = part_of_span(length_s, account.span_s, account.blur) * (1 - throughout)
        if counted_s == 0:
            density += throughout / resolution_s
        yield density, overflows, length_s


def _halted(account: Account) -> Iterator[Prediction]:
    if any(account.halts) and account.time_passed:
        throughout = HALTED_THROUGHOUT if all(account.halts) else 0.0
        yield from _heaviest(account, _stops(account, throughout), 1.0)


def _stopped(account: Account) -> Iterator[Prediction]:
    if account.time_passed:
        stops = _stops(account, STOPPED_THROUGHOUT)
        yield from _heaviest(account, stops, _halt_for_dump(account))


def _set(account: Account) -> Iterator[Prediction]:
    if not account.in_order:
        return
    by_s = account.set_by_s
    density = setting(by_s, account.later.period_s, account.blur)
    carry = carry_after_writing(*account.carries, account.could_overflow)
    likelihood = density * carry * _halt_for_dump(account)
    yield Prediction(likelihood, account.by_stamps_s, amount_s=by_s)


def _restarts(account: Account) -> Iterator[tuple[float, int, int]]:
    """The density of the time since a restart from zero, for every number of overflows since."""
    span_s, period_s = account.span_s, account.later.period_s
    width_s = account.blur.width_s
    for overflows in range(min((span_s - account.later_s) // period_s + 1, 16)):
        since_s = account.later_s + overflows * period_s
        density = 0.6 / max(span_s, 1) + 0.4 * log_uniform(since_s, span_s, width_s)
        yield density, overflows, since_s


def _restarted(account: Account) -> Iterator[Prediction]:
    if account.in_order:
        yield from _heaviest(account, _restarts(account), _halt_for_dump(account))


def _banked(account: Account) -> Iterator[Prediction]:
    if not account.in_order:
        return
    ran_s = account.earlier_s + account.span_s
    days = round((ran_s - account.later_s) / DAY_S)
    most_days = min(ran_s // DAY_S, account.span_s // DAY_S + 1)
    if days < max(account.earlier_day, 1) or account.later_day > most_days:
        return
    rest_s = account.later_s + days * DAY_S - ran_s
    day = (1 - JUST_BANKED) / (min(most_days, 511) + 1)
    day += JUST_BANKED if account.later_day == 0 else 0.0
    carry = 0.1 if account.later.carried else 0.9
    yield Prediction(
        account.blur.at(rest_s) * day * carry * _halt_for_dump(account),
        account.by_stamps_s,
        rest_s=rest_s,
        amount_s=days * DAY_S,
    )


def _shifts(near_s: int, width_s: float) -> Iterator[tuple[int, float]]:
    """Shifts of zones near a length, with how usual each is. Where the crystal blurs quarters of an
    hour into each other, whole hours only."""
    step_s = QUARTER_S if width_s < QUARTER_S else HOUR_S
    reach_s = round(3.5 * width_s) + step_s // 2
    first = max(-LOCAL_TIME_AHEAD_S, near_s - reach_s)
    last = min(LOCAL_TIME_AHEAD_S, near_s + reach_s)
    for shift_s in range(-(-first // step_s) * step_s, last + 1, step_s):
        if abs(shift_s) == HOUR_S:
            yield shift_s, ONE_HOUR
        elif shift_s % HOUR_S == 0 and shift_s:
            yield shift_s, OTHER_HOUR
        elif shift_s % HOUR_S == HOUR_S // 2:
            yield shift_s, HALF_HOUR
        elif shift_s:
            yield shift_s, QUARTER_HOUR


def _stamp_shifted(account: Account) -> Iterator[Prediction]:
    if account.by_stamps_s < -REVERSED_BY_S:
        return
    carry = carry_seen(*account.carries, account.overflows > 0) * _halt_for_dump(account)
    for shift_s, usual in _shifts(-account.rest_s, account.blur.width_s):
        elapsed_s = account.by_stamps_s - shift_s
        rest_s = account.rest_s + shift_s
        if elapsed_s >= -2:
            density = account.blur.at(rest_s) * usual
            yield Prediction(density * carry, elapsed_s, account.overflows, rest_s, shift_s)


def _clock_shifted(account: Account) -> Iterator[Prediction]:
    if not account.in_order:
        return
    carry = carry_after_writing(*account.carries, account.could_overflow)
    carry *= _halt_for_dump(account)
    by_s = account.set_by_s
    overflows = (account.span_s + by_s - account.change_s) // account.later.period_s
    for shift_s, usual in _shifts(by_s, account.blur.width_s):
        density = account.blur.at(by_s - shift_s) * usual
        yield Prediction(density * carry, account.by_stamps_s, overflows, by_s - shift_s, shift_s)


def _reversed(account: Account) -> Iterator[Prediction]:
    if account.by_stamps_s >= 0:
        return
    swapped = account.swapped()
    untouched = next(_untouched(swapped))
    anything = 0.1 / account.later.period_s
    fits = untouched.likelihood > anything
    yield Prediction(
        untouched.likelihood + anything,
        account.by_stamps_s,
        swapped.overflows if fits else None,
        swapped.rest_s if fits else None,
    )


ENTRIES: Final = (
    Entry("untouched", "", "the clock ran all the time", ALL_KINDS, 0.85, _untouched),
    Entry("halted", "", "halt was set for a part or all of the time", DAY_COUNTER, 0.05, _halted),
    Entry("stopped", "", "the clock had no power, or no software ran", ALL_KINDS, 0.03, _stopped),
    Entry("set", "", "somebody wrote another time into the clock", ALL_KINDS, 0.02, _set),
    Entry(
        "restarted", "cell", "a new cell; the clock ran on from zero", COUNTERS, 0.02, _restarted
    ),
    Entry("restarted", "banked", "a game took whole days away", DAY_COUNTER, 0.01, _banked),
    Entry("stamp-shifted", "", "one stamp is local time", ALL_KINDS, 0.06, _stamp_shifted),
    Entry("clock-shifted", "", "summer time or a zone", ALL_KINDS, 0.012, _clock_shifted),
    Entry("reversed", "", "the files are the wrong way round", ALL_KINDS, 0.02, _reversed),
)
"""Every explanation of two saves with usable stamps, with how usual it is."""
