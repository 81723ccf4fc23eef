"""Two saves as numbers: what every explanation is judged by."""

from __future__ import annotations

from dataclasses import dataclass

from rtcsave.clocks import Clock
from rtcsave.elapsed_time.likelihood import STAMP_OFF_S, Blur, blur
from rtcsave.units import DAY_S


@dataclass(frozen=True, slots=True, kw_only=True)
class Account:
    """Two readings, two stamps, and the differences between them.

    `change_s` is the later reading less the earlier, as it stands. With `overflows`, the number
    that brings it nearest to the stamps, the registers count `counted_s`; `rest_s` is that less
    the stamps' account: positive where the cartridge clock counted more.
    """

    earlier: Clock
    later: Clock
    earlier_s: int
    later_s: int
    from_unix_s: int
    to_unix_s: int
    change_s: int
    by_stamps_s: int
    overflows: int
    rest_s: int
    blur: Blur

    @property
    def span_s(self) -> int:
        """The stamps' account, 0 where it is negative."""
        return max(self.by_stamps_s, 0)

    @property
    def in_order(self) -> bool:
        """Whether the later stamp is the later one, give or take late stamps."""
        return self.by_stamps_s >= -STAMP_OFF_S

    @property
    def time_passed(self) -> bool:
        """Whether the stamps say that any time passed in which a clock could have stopped."""
        return self.by_stamps_s > 1

    @property
    def counted_s(self) -> int:
        """What the registers count with the overflows that come nearest to the stamps."""
        return self.change_s + self.overflows * self.later.period_s

    @property
    def set_by_s(self) -> int:
        """By how much the clock would have been set: the smallest, forward or back."""
        period_s = self.later.period_s
        return (self.change_s - self.span_s + period_s // 2) % period_s - period_s // 2

    @property
    def halts(self) -> tuple[bool, bool]:
        """Whether halt is set in the earlier and in the later save."""
        return self.earlier.halted, self.later.halted

    @property
    def carries(self) -> tuple[bool, bool]:
        """Whether carry is set in the earlier and in the later save."""
        return self.earlier.carried, self.later.carried

    @property
    def new_carry(self) -> bool:
        """Whether carry is set in the later save only."""
        return self.later.carried and not self.earlier.carried

    @property
    def could_overflow(self) -> bool:
        """Whether a clock that ran all the time passed its last day."""
        return self.earlier_s + self.span_s >= self.later.period_s

    @property
    def fitting_overflows(self) -> tuple[int, ...]:
        """Every number of overflows with which the registers count 0 to the stamps' account.

        Of very many only the first and the last eight: stamps may be thousands of years apart.
        """
        period_s = self.later.period_s
        fewest = 1 if self.change_s < 0 else 0
        most = (self.span_s - self.change_s + round(4 * self.blur.width_s)) // period_s
        if most - fewest < 16:
            return tuple(range(fewest, most + 1))
        return (*range(fewest, fewest + 8), *range(most - 7, most + 1))

    def swapped(self) -> Account:
        """The account of the same two saves the other way round."""
        return account_of(
            self.later,
            self.earlier,
            (self.later_s, self.earlier_s),
            (self.to_unix_s, self.from_unix_s),
        )

    @property
    def later_day(self) -> int:
        """The day counter of the later save."""
        return self.later_s // DAY_S

    @property
    def earlier_day(self) -> int:
        """The day counter of the earlier save."""
        return self.earlier_s // DAY_S


def account_of(
    earlier: Clock, later: Clock, readings_s: tuple[int, int], stamps_s: tuple[int, int]
) -> Account:
    """The account of two clocks with their readings and stamps in seconds."""
    change_s, by_stamps_s = readings_s[1] - readings_s[0], stamps_s[1] - stamps_s[0]
    fewest = 1 if change_s < 0 else 0
    overflows = max(fewest, round((by_stamps_s - change_s) / later.period_s))
    return Account(
        earlier=earlier,
        later=later,
        earlier_s=readings_s[0],
        later_s=readings_s[1],
        from_unix_s=stamps_s[0],
        to_unix_s=stamps_s[1],
        change_s=change_s,
        by_stamps_s=by_stamps_s,
        overflows=overflows,
        rest_s=change_s + overflows * later.period_s - by_stamps_s,
        blur=blur(max(by_stamps_s, 0), later.resolution_s),
    )
