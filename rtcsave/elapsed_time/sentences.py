"""What is said about an explanation: its cause in a sentence, and the numbers that show it.

Every sum that is shown adds up for the reader: a reading with its overflows, stamps less a shift.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final

from rtcsave.elapsed_time.account import Account
from rtcsave.elapsed_time.explanations import Entry, Prediction
from rtcsave.errors import number_of
from rtcsave.units import HOUR_S, MINUTE_S
from rtcsave.when import say_span, zones_that_changed

ALMOST_CERTAIN: Final = 0.95
PROBABLE: Final = 0.60

HEALTHY_PPM: Final = 45
"""The most that a crystal is off in ordinary use (a data sheet of a clock chip; README, Sources)."""


def how_likely(weight: float) -> str:
    """The weight of an explanation in a word that begins a sentence."""
    if weight >= ALMOST_CERTAIN:
        return "Almost certainly"
    return "Probably" if weight >= PROBABLE else "Possibly"


def registers_say(account: Account, overflows: int | None) -> str:
    """What the registers count, with the sum of reading and overflows where there are any."""
    change_s, period_s = account.change_s, account.later.period_s
    if not overflows:
        what = "the reading changed by" if change_s < 0 else "the registers count"
        return f"{what} {say_span(change_s)}"
    total = say_span(change_s + overflows * period_s)
    each = say_span(period_s)
    return (
        f"the reading changed by {say_span(change_s)}, and {number_of(overflows, 'overflow')} of "
        f"{each} {'makes' if overflows == 1 else 'make'} that {total}"
    )


def _carry(account: Account, overflows: int | None) -> str:
    if account.later.kind != "counter":
        return ""
    if overflows and not account.later.carried:
        return " Carry is not set: software has cleared it."
    if overflows:
        return " Carry is set, as an overflow sets it."
    return " Carry is newly set, without an overflow." if account.new_carry else ""


def _halt(account: Account) -> str:
    if not any(account.halts):
        return ""
    return f" Halt is set in {_halted_in(account)}, perhaps for the dump alone."


def _halted_in(account: Account) -> str:
    if all(account.halts):
        return "both saves"
    return "the later save" if account.later.halted else "the earlier save"


def _rest(account: Account, prediction: Prediction) -> str:
    """The difference between registers and real time: truncation, a late stamp or a rate."""
    rest_s, span_s = prediction.rest_s or 0, abs(prediction.elapsed_s)
    if abs(rest_s) <= account.later.resolution_s:
        return "which agrees"
    ahead = f"{say_span(abs(rest_s))} {'more' if rest_s > 0 else 'less'} than that"
    if abs(rest_s) > HEALTHY_PPM * 1e-6 * span_s + 2 * account.later.resolution_s:
        if abs(rest_s) <= MINUTE_S:
            return f"{ahead} (a stamp was written some seconds late)"
        rate = rest_s / max(span_s, 1) * 1e6
        return f"{ahead} ({rate:+.2f} ppm, while a healthy crystal stays within {HEALTHY_PPM} ppm)"
    return f"{ahead} ({rest_s / span_s * 1e6:+.2f} ppm)"


def _begun(clause: str) -> str:
    """A clause as the beginning of a sentence."""
    return clause[:1].upper() + clause[1:]


def _say_untouched(account: Account, prediction: Prediction) -> str:
    registers = _begun(registers_say(account, prediction.overflows))
    text = (
        f"the clock ran untouched. The stamps count {say_span(account.by_stamps_s)}. "
        f"{registers}, {_rest(account, prediction)}."
    )
    return text + _carry(account, prediction.overflows) + _halt(account)


def _still(account: Account, prediction: Prediction) -> str:
    """What a clock that did not run for a time shows."""
    stamps = say_span(account.by_stamps_s)
    if not account.change_s and not prediction.overflows:
        return f"the registers did not move, while the stamps count {stamps}"
    registers = registers_say(account, prediction.overflows)
    if prediction.amount_s <= account.later.resolution_s:
        return f"{registers}, as the stamps do"
    return f"{registers}, {say_span(prediction.amount_s)} less than the {stamps} of the stamps"


def _say_halted(account: Account, prediction: Prediction) -> str:
    throughout = not account.change_s and not prediction.overflows
    when = "the clock was halted" if throughout else "the clock was halted at some time"
    return f"{when}: halt is set in {_halted_in(account)}, and {_still(account, prediction)}."


def _say_stopped(account: Account, prediction: Prediction) -> str:
    if not account.change_s and not prediction.overflows:
        why = "the clock was stopped (nothing ran the file, or the cell was out)"
    else:
        why = f"the clock was stopped for {say_span(prediction.amount_s)}"
    text = f"{why}: {_still(account, prediction)}.{_carry(account, prediction.overflows)}"
    numbers = account.fitting_overflows
    if len(numbers) > 1 and not account.change_s and not prediction.overflows:
        each, most = say_span(account.later.period_s), numbers[-1]
        some = "1 overflow" if most == 1 else f"1 to {most} overflows"
        text += (
            f" Or it ran for {each}{'' if most == 1 else ' or a multiple of that'}, with {some}."
        )
    elif len(numbers) > 1:
        between = "or" if len(numbers) == 2 else "to"
        text += f" {numbers[0]} {between} {numbers[-1]} overflows are possible."
    return text


def _say_set(account: Account, prediction: Prediction) -> str:
    by_s = prediction.amount_s
    way = "forward" if by_s > 0 else "back"
    overflows = (account.span_s + by_s - account.change_s) // account.later.period_s
    return (
        f"somebody set the clock {way} by {say_span(abs(by_s))}: "
        f"{registers_say(account, max(overflows, 0))}, the stamps {say_span(account.by_stamps_s)}."
    )


def _say_cell(account: Account, prediction: Prediction) -> str:
    return (
        f"the clock restarted from zero, {say_span(prediction.amount_s)} before the later save "
        f"(a new cell): it read {account.earlier.reading()}, then {account.later.reading()}."
    )


def _say_banked(account: Account, prediction: Prediction) -> str:
    days = say_span(prediction.amount_s)
    ran = say_span(account.by_stamps_s + (prediction.rest_s or 0))
    return (
        f"a game banked {days}: it took them from the day counter. The stamps count "
        f"{say_span(account.by_stamps_s)}. The reading went from {account.earlier.reading()} to "
        f"{account.later.reading()}; with the {days} the clock ran {ran}, {_rest(account, prediction)}."
    )


def _zone(account: Account, shift_s: int) -> str:
    """A zone whose offset changed by that much between the stamps, where one is well known."""
    if abs(shift_s) not in (HOUR_S // 2, HOUR_S, 2 * HOUR_S):
        return ""
    zones = zones_that_changed(account.from_unix_s, account.to_unix_s, shift_s)
    return f" {zones[0]} changed by that much between the two stamps." if zones else ""


def _say_stamp_shifted(account: Account, prediction: Prediction) -> str:
    shift_s = prediction.shift_s or 0
    way = "less" if shift_s > 0 else "plus"
    registers = _begun(registers_say(account, prediction.overflows))
    return (
        f"one stamp is local time. The stamps count {say_span(account.by_stamps_s)}; "
        f"{way} {say_span(abs(shift_s))} that is {say_span(prediction.elapsed_s)}. "
        f"{registers}, {_rest(account, prediction)}."
    )


def _say_clock_shifted(account: Account, prediction: Prediction) -> str:
    shift_s = prediction.shift_s or 0
    way = "forward" if shift_s > 0 else "back"
    return (
        f"somebody set the clock {way} by {say_span(abs(shift_s))}, for summer time or a zone: "
        f"{registers_say(account, max(prediction.overflows or 0, 0))}, "
        f"the stamps {say_span(account.by_stamps_s)}."
    )


def _say_reversed(account: Account, prediction: Prediction) -> str:
    return (
        "the files are the wrong way round: the later one was written "
        f"{say_span(-account.by_stamps_s)} before the earlier one."
    )


_WORDS: Final[Mapping[tuple[str, str], Callable[[Account, Prediction], str]]] = {
    ("untouched", ""): _say_untouched,
    ("halted", ""): _say_halted,
    ("stopped", ""): _say_stopped,
    ("set", ""): _say_set,
    ("restarted", "cell"): _say_cell,
    ("restarted", "banked"): _say_banked,
    ("stamp-shifted", ""): _say_stamp_shifted,
    ("clock-shifted", ""): _say_clock_shifted,
    ("reversed", ""): _say_reversed,
}


def sentence(
    account: Account, variants: tuple[tuple[Entry, Prediction], ...], weight: float
) -> str:
    """An explanation in a sentence or two, with how likely it is and what shows it."""
    said = [
        _WORDS[entry.cause, entry.variant](account, prediction) for entry, prediction in variants
    ]
    return f"{how_likely(weight)} {' Or '.join(said)}"


SILENT_STAMP: Final = ("stopped", "set", "restarted")
"""Causes that a stamp which is wrong by any amount looks like."""

WRONG_STAMP: Final = "A stamp that is wrong by any amount would look the same."


def conclusion(cause: str, times_s: tuple[int, ...]) -> str:
    """What follows: the real time, or the times that are possible, as the last sentence."""
    if cause == "reversed":
        return ""
    said = [say_span(time_s) for time_s in times_s]
    if len(said) > 3:
        return f"The real time is {said[0]}, or one of {len(said) - 1} others."
    return f"The real time is {' or '.join(said)}."


def zone_sentence(account: Account, prediction: Prediction) -> str:
    """For a shift that comes first: which zone explains it, if a well-known one does."""
    return _zone(account, prediction.shift_s) if prediction.shift_s else ""


DIFFERENT_MEMORY: Final = (
    "The memory images have nothing in common: the saves may be of different cartridges."
)
