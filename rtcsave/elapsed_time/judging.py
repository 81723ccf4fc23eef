"""`elapsed`: the explanations weighed, and what follows from all of them together."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Final

from rtcsave.elapsed_time.account import Account, account_of
from rtcsave.elapsed_time.explanations import ENTRIES, Entry, Prediction
from rtcsave.elapsed_time.sentences import (
    DIFFERENT_MEMORY,
    SILENT_STAMP,
    WRONG_STAMP,
    conclusion,
    sentence,
    zone_sentence,
)
from rtcsave.elapsed_time.similarity import memory_alike
from rtcsave.elapsed_time.stamp_reading import instant_of
from rtcsave.elapsed_time.stampless import Unknown, without_stamps
from rtcsave.errors import BadArgument
from rtcsave.savefile import SaveFile, check_save
from rtcsave.when import Instant, now_or, say_span

LEAST_WEIGHT: Final = 0.01
"""Explanations that weigh less are left out."""

LEAST_VARIANT: Final = 0.05
"""Variants of one cause that weigh less, beside the heaviest, are not said."""

STAMP_RESOLUTION_S: Final = 1
"""Two stamps of whole seconds leave the time between them open by less than that, either way."""

AGREED_WITHIN_S: Final = 1


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class Explanation:
    """One thing that can have happened between two saves, and the real time that follows from it.

    `cause` is one word, `text` a sentence or two with the numbers that show it. `weight` is 0 to 1,
    the sum over all explanations being 1. The time from the writing of one save to the writing of
    the other is `elapsed_s`, between `low_s` and `high_s` (seconds; negative for `reversed`; None
    for `unknown`, as is an open end). `overflows` is None where nobody can know it. `rate_ppm` lies
    between `low_ppm` and `high_ppm`, the bounds that truncation leaves; positive = the cartridge
    clock runs fast.
    `shift_s`: for `stamp-shifted`, what the stamps count too much; for `clock-shifted`, by how much
    the clock was set forward.
    """

    cause: str
    weight: float
    elapsed_s: int | None
    low_s: int | None
    high_s: int | None
    overflows: int | None
    rate_ppm: float | None
    low_ppm: float | None
    high_ppm: float | None
    shift_s: int | None
    text: str

    def __repr__(self) -> str:
        time = "unknown" if self.elapsed_s is None else say_span(self.elapsed_s)
        return f"Explanation({self.cause}, {self.weight:.0%}, {time})"


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class Elapsed:
    """How much real time passed between two saves: all `explanations` that fit, heaviest first.

    `by_registers_s` is the difference of the readings modulo the clock's period, `by_stamps_s` that
    of the stamps (None where one is unusable). `low_s` to `high_s` is the hull over all
    explanations; `agreed` says whether they all give the same time, give or take a second.
    `candidates_s` are the times that are possible, the likeliest first; where no stamps decide, the
    times that registers of an untouched clock allow. `memory_alike` is None where there is nothing
    to compare. `notes` say what matters about the stamps, `text` says everything. `cause`,
    `elapsed_s`, `overflows` and `rate_ppm` are the first explanation's.
    """

    explanations: tuple[Explanation, ...]
    by_registers_s: int
    by_stamps_s: int | None
    low_s: int | None
    high_s: int | None
    agreed: bool
    candidates_s: tuple[int, ...]
    memory_alike: bool | None
    notes: tuple[str, ...]
    text: str
    cause: str = field(init=False)
    elapsed_s: int | None = field(init=False)
    overflows: int | None = field(init=False)
    rate_ppm: float | None = field(init=False)

    def __post_init__(self) -> None:
        first = self.explanations[0]
        for name in ("cause", "elapsed_s", "overflows", "rate_ppm"):
            object.__setattr__(self, name, getattr(first, name))

    def __repr__(self) -> str:
        agreed = "agreed" if self.agreed else "not agreed"
        return f"Elapsed({', '.join(map(repr, self.explanations))}; {agreed})"


@dataclass(slots=True)
class Judged:
    """One cause with its weight, and the variants of it that the table has, heaviest first."""

    weight: float
    variants: list[tuple[float, Entry, Prediction]]

    @property
    def prediction(self) -> Prediction:
        """What the heaviest variant predicts."""
        return self.variants[0][2]


def elapsed(earlier: SaveFile, later: SaveFile, now: Instant | None = None) -> Elapsed:
    """How much real time passed between two saves of one cartridge, and what explains them.

    Registers out of range are read as the time that they say. A stamp that `repair` corrects by
    default is read as corrected; `now` (None: the present) decides what is plausible. `NoClock`
    where a save has no clock block, `BadArgument` where the clocks are of different kinds,
    `DoesNotFit` where a word holds what no clock can hold.
    """
    now_s = now_or(now)
    for save in (earlier, later):
        check_save(save).clock_block.refuse_no_time()
    first, second = earlier.clock_block.running, later.clock_block.running
    if first.kind != second.kind:
        raise BadArgument(
            "the saves hold clocks of different kinds", found=f"{first.kind} and {second.kind}"
        )
    alike = memory_alike(earlier.memory, later.memory)
    start = instant_of(earlier.clock_block, "earlier", now_s)
    end = instant_of(later.clock_block, "later", now_s)
    notes = [stamped.note for stamped in (start, end) if stamped.note]
    readings_s = first.as_time()[0].to_seconds(), second.as_time()[0].to_seconds()
    if start.unix_s is None or end.unix_s is None:
        change_s = readings_s[1] - readings_s[0]
        known = without_stamps(first, second, change_s, start, end, now_s)
        return _unknown(change_s, second.period_s, known, alike, notes)
    account = account_of(first, second, readings_s, (start.unix_s, end.unix_s))
    return _weighed(account, alike, notes)


def _judged(account: Account) -> list[Judged]:
    """What the entries predict, heaviest first; entries of one cause and one shift are one."""
    judged: dict[tuple[str, int | None], Judged] = {}
    for entry in ENTRIES:
        if account.later.kind not in entry.kinds:
            continue
        for prediction in entry.predict(account):
            weight = entry.prior * prediction.likelihood
            item = judged.setdefault((entry.cause, prediction.shift_s), Judged(0.0, []))
            item.variants.append((weight, entry, prediction))
            item.weight += weight
    total = sum(item.weight for item in judged.values())
    kept = [item for item in judged.values() if item.weight >= LEAST_WEIGHT * total]
    kept.sort(key=lambda item: -item.weight)
    total = sum(item.weight for item in kept)
    for item in kept:
        item.variants.sort(key=lambda variant: -variant[0])
        item.weight /= total
    return kept


def _weighed(account: Account, alike: bool | None, notes: list[str]) -> Elapsed:
    judged = _judged(account)
    explanations = tuple(_explanation(account, item) for item in judged)
    first = explanations[0]
    zone = zone_sentence(account, judged[0].prediction)
    explanations = (replace(first, text=first.text + zone), *explanations[1:])
    times_s = tuple(dict.fromkeys(item.prediction.elapsed_s for item in judged))
    lines = [DIFFERENT_MEMORY, *notes] if alike is False else [*notes]
    lines += [explanation.text for explanation in explanations]
    if first.cause in SILENT_STAMP:
        notes = [*notes, WRONG_STAMP]
        lines.append(WRONG_STAMP)
    lines.append(conclusion(first.cause, times_s))
    return Elapsed(
        explanations=explanations,
        by_registers_s=account.change_s % account.later.period_s,
        by_stamps_s=account.by_stamps_s,
        low_s=min(times_s) - STAMP_RESOLUTION_S,
        high_s=max(times_s) + STAMP_RESOLUTION_S,
        agreed=max(times_s) - min(times_s) <= AGREED_WITHIN_S,
        candidates_s=times_s,
        memory_alike=alike,
        notes=tuple(notes),
        text=" ".join(line for line in lines if line),
    )


def _explanation(account: Account, item: Judged) -> Explanation:
    prediction = item.prediction
    rate_ppm, low_ppm, high_ppm = _rate(prediction, account.later.resolution_s)
    heaviest = item.variants[0][0]
    variants = tuple(
        (entry, other)
        for weight, entry, other in item.variants
        if weight >= LEAST_VARIANT * heaviest
    )
    return Explanation(
        cause=item.variants[0][1].cause,
        weight=item.weight,
        elapsed_s=prediction.elapsed_s,
        low_s=prediction.elapsed_s - STAMP_RESOLUTION_S,
        high_s=prediction.elapsed_s + STAMP_RESOLUTION_S,
        overflows=prediction.overflows,
        rate_ppm=rate_ppm,
        low_ppm=low_ppm,
        high_ppm=high_ppm,
        shift_s=prediction.shift_s,
        text=sentence(account, variants, item.weight),
    )


def _rate(
    prediction: Prediction, resolution_s: int
) -> tuple[float | None, float | None, float | None]:
    """The rate in ppm, and the bounds that truncation of two readings and two stamps leaves."""
    span_s, rest_s = abs(prediction.elapsed_s), prediction.rest_s
    if rest_s is None or not span_s:
        return None, None, None
    counted_s = span_s + rest_s
    low = ((counted_s - resolution_s) / (span_s + 1) - 1) * 1e6
    high = ((counted_s + resolution_s) / (span_s - 1) - 1) * 1e6 if span_s > 1 else None
    return rest_s / span_s * 1e6, low, high


def _unknown(
    change_s: int, period_s: int, known: Unknown, alike: bool | None, notes: list[str]
) -> Elapsed:
    text = known.text if alike is not False else f"{DIFFERENT_MEMORY} {known.text}"
    explanation = Explanation(
        cause="unknown", weight=1.0, elapsed_s=None, low_s=0, high_s=known.high_s, overflows=None,
        rate_ppm=None, low_ppm=None, high_ppm=None, shift_s=None, text=known.text,
    )  # fmt: skip
    return Elapsed(
        explanations=(explanation,),
        by_registers_s=change_s % period_s,
        by_stamps_s=None,
        low_s=0,
        high_s=known.high_s,
        agreed=False,
        candidates_s=known.candidates_s,
        memory_alike=alike,
        notes=tuple(notes),
        text=text,
    )
