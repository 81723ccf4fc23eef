"""Plans: what they change to the byte, what they leave, what they ask for."""

from __future__ import annotations

import pathlib

import pytest
from known import HEALTHY48, NOW, STAMP, memory, patched

from rtcsave import BadArgument, BlockCutShort, RepairPlan, dumps, examine, load, plan_repair


def plan(data: bytes, **said: object) -> RepairPlan:
    return plan_repair(examine(data, layout="block48", now=NOW), now=NOW, **said)  # type: ignore[arg-type]


def test_a_healthy_save_needs_nothing() -> None:
    repair = plan(HEALTHY48)
    assert (repair.steps, repair.offered, repair.needs) == ((), (), ())
    assert dumps(repair.apply()) == HEALTHY48


def test_a_past_range_time_becomes_the_time_that_it_says() -> None:
    # 29:04:61 on day 300 is day 301, 05:05:01 (12Ch to 12Dh)
    odd = patched(HEALTHY48, 0, "3d00000004000000 1d")
    repair = plan(memory() + odd)
    (step,) = repair.steps
    assert step.code == "register-past-range"
    assert [(c.offset, c.old.hex(), c.new.hex(), c.field) for c in step.changes] == [
        (2_048, "3d", "01", "running_seconds"),
        (2_052, "04", "05", "running_minutes"),
        (2_056, "1d", "05", "running_hours"),
        (2_060, "2c", "2d", "running_day_low"),
    ]
    assert dumps(repair.apply()) == memory() + patched(HEALTHY48, 0, "0100000005000000 05000000 2d")


def test_or_zero_as_the_chip_would_make_it() -> None:
    odd = patched(HEALTHY48, 0, "3d00000004000000 1d")
    repair = plan(odd, past_range="zero")
    assert dumps(repair.apply()) == patched(HEALTHY48, 0, "0000000004000000 00")


def test_a_time_past_day_511_runs_only_when_named() -> None:
    odd = patched(HEALTHY48, 8, "18000000 ff")  # hour 24 of day 511
    repair = plan(odd)
    assert repair.steps == ()
    assert [step.code for step in repair.offered] == ["register-past-range"]
    assert dumps(repair.apply()) == odd
    # it says day 512, 00:40:07: day 0 with carry
    repaired = patched(HEALTHY48, 8, "00000000 00000000 80")
    assert dumps(repair.apply(also=["register-past-range"])) == repaired
    assert dumps(plan(odd, past_range="zero").apply()) == patched(HEALTHY48, 8, "00000000 ff")


def test_stray_bits_go_first_and_only_they_do() -> None:
    repair = plan(patched(HEALTHY48, 0, "c7ffffff"))
    assert [step.code for step in repair.steps] == ["register-stray-bits"]
    assert dumps(repair.apply()) == HEALTHY48


@pytest.mark.parametrize(
    ("stamp", "code"),
    [
        ("a0de19d89c010000", "stamp-milliseconds"),
        ("6427b069efbeadde", "stamp-upper-half"),
        ("0000000069b02764", "stamp-byte-order"),
    ],
)
def test_a_stamp_with_one_plausible_reading_is_repaired(stamp: str, code: str) -> None:
    repair = plan(patched(HEALTHY48, 40, stamp))
    assert [step.code for step in repair.steps] == [code]
    assert dumps(repair.apply()) == HEALTHY48


def test_a_stamp_with_two_plausible_readings_is_left() -> None:
    # 408 x 2^32 + 1041000000: as milliseconds a date in 2025, its lower half one in 2002
    raw = (1_041_000_000 + (408 << 32)).to_bytes(8, "little").hex()
    odd = patched(HEALTHY48, 40, raw)
    repair = plan(odd)
    assert repair.steps == ()
    assert dumps(repair.apply()) == odd
    (finding,) = examine(odd, now=NOW).findings
    assert "milliseconds: 20" in finding.message
    assert "its lower 32 bits alone: 20" in finding.message


@pytest.mark.parametrize(
    ("stamp", "code"),
    [
        ("0000000000000000", "stamp-absent"),
        ("e49af86900000000", "stamp-future"),
        ("ffe7052f00000000", "stamp-early"),
        ("ffffffffffffff7f", "stamp-unrepresentable"),
    ],
)
def test_what_only_the_user_knows_is_asked_for(stamp: str, code: str) -> None:
    odd = patched(HEALTHY48, 40, stamp)
    repair = plan(odd)
    assert repair.steps == ()
    assert [(need.code, need.what) for need in repair.needs] == [(code, "saved_at")]
    assert dumps(repair.apply()) == odd
    answered = plan(odd, saved_at=STAMP)
    assert [step.code for step in answered.steps] == [code]
    assert dumps(answered.apply()) == HEALTHY48


def test_what_the_user_says_wins_over_every_reading() -> None:
    answered = plan(patched(HEALTHY48, 40, "a0de19d89c010000"), saved_at=STAMP - 86_400)
    assert dumps(answered.apply()) == patched(HEALTHY48, 40, "e4d5ae69")


def test_a_32_bit_stamp_that_is_a_date_both_ways_is_left_unless_named() -> None:
    # 77B02769h is a date in 2033; turned round, 6927B077h, one in 2025
    odd = HEALTHY48[:40] + bytes.fromhex("6927b077")
    repair = plan_repair(examine(odd, now=NOW), now=NOW)
    assert [step.code for step in repair.offered] == ["stamp-byte-order"]
    assert repair.steps == ()
    assert dumps(repair.apply(also=["stamp-byte-order"]))[40:] == bytes.fromhex("77b02769")


def test_a_32_bit_stamp_that_no_clock_was_so_wrong_to_write_is_turned_round() -> None:
    # 80B02769h is a date in 2038, twelve years from then; turned round, 6927B080h, one in 2025
    repair = plan_repair(examine(HEALTHY48[:40] + bytes.fromhex("6927b080"), now=NOW), now=NOW)
    assert [step.code for step in repair.steps] == ["stamp-byte-order"]
    assert dumps(repair.apply())[40:] == bytes.fromhex("80b02769")


@pytest.mark.parametrize(
    ("stamp", "code"),
    [
        ("0000000000000000", "stamp-absent"),
        ("64e1d16b00000000", "stamp-future"),  # 2027
        ("00e1f50500000000", "stamp-early"),  # 1973
        ("ffffffffffffff7f", "stamp-unrepresentable"),
    ],
)
def test_a_plan_that_cannot_know_asks(stamp: str, code: str) -> None:
    repair = plan(patched(HEALTHY48, 40, stamp))
    assert (repair.steps, repair.offered) == ((), ())
    assert [(need.code, need.what) for need in repair.needs] == [(code, "saved_at")]


@pytest.mark.parametrize("wrong", [NOW + 1, 788_918_399])
def test_an_instant_at_which_nothing_was_saved_is_refused(wrong: int) -> None:
    with pytest.raises(BadArgument, match="no save was written at that instant"):
        plan(HEALTHY48, saved_at=wrong)


def test_a_local_stamp_is_repaired_only_when_named() -> None:
    ahead = patched(HEALTHY48, 40, "f4b0b169")  # four hours past now
    repair = plan(ahead)
    assert repair.steps == ()
    assert dumps(repair.apply()) == ahead
    assert dumps(plan(ahead, saved_at=STAMP).apply(also=["stamp-local-time"])) == HEALTHY48


def test_another_epoch_is_repaired_only_when_named() -> None:
    microseconds = patched(HEALTHY48, 40, "00a10d25ac4c0600")  # 1773152100 s and six zeros
    repair = plan(microseconds)
    assert repair.steps == ()
    assert dumps(repair.apply(also=["stamp-other-epoch"])) == HEALTHY48


def test_where_several_readings_are_plausible_the_user_decides() -> None:
    # 3855996900 s since 1904 is the healthy stamp, since 1900 a date in 2022
    odd = patched(HEALTHY48, 40, "e4d7d5e500000000")
    assert dumps(plan(odd).apply(also=["stamp-other-epoch"])) == odd
    answered = plan(odd, saved_at=STAMP)
    assert dumps(answered.apply()) == odd
    assert dumps(answered.apply(also=["stamp-other-epoch"])) == HEALTHY48


def test_latched_later_only_when_named() -> None:
    later = patched(HEALTHY48, 32, "2d")
    assert plan(later).steps == ()
    repaired = dumps(plan(later).apply(also="latched-later"))
    assert repaired == HEALTHY48[:20] + HEALTHY48[:20] + HEALTHY48[40:]


class TestCutShort:
    def test_what_is_left_of_a_clock_is_kept_when_asked(self) -> None:
        cut = memory() + HEALTHY48[:29]
        repair = plan_repair(examine(cut, now=NOW), now=NOW)
        assert repair.steps == ()
        with pytest.raises(BlockCutShort):
            repair.apply()
        whole = memory() + HEALTHY48[:20] + HEALTHY48[:20] + bytes(8)
        assert dumps(repair.apply(also=["block-cut-short"])) == whole
        answered = plan_repair(examine(cut, now=NOW), now=NOW, saved_at=STAMP)
        assert dumps(answered.apply(also=["block-cut-short"])) == whole[:-8] + HEALTHY48[40:]

    def test_latched_registers_that_are_whole_stay(self) -> None:
        repair = plan_repair(examine(memory() + HEALTHY48[:42], now=NOW), now=NOW)
        assert dumps(repair.apply(also=["block-cut-short"])) == memory() + HEALTHY48[:40] + bytes(8)

    def test_without_a_whole_clock_there_is_no_step(self) -> None:
        repair = plan_repair(examine(memory() + HEALTHY48[:19], now=NOW), now=NOW)
        assert repair.offered == ()
        with pytest.raises(BlockCutShort):
            repair.apply(also=["block-cut-short"])


class TestChoosing:
    odd = patched(patched(HEALTHY48, 0, "c7"), 24, "3d")

    def test_only(self) -> None:
        assert [step.code for step in plan(self.odd).steps] == [
            "register-stray-bits",
            "latched-past-range",
        ]
        assert dumps(plan(self.odd).apply(only=["register-stray-bits"])) == patched(
            self.odd, 0, "07"
        )

    def test_skip(self) -> None:
        # latched minute 61 of 13 h is 14:01
        kept = dumps(plan(self.odd).apply(skip=["register-stray-bits"]))
        assert kept == patched(patched(self.odd, 24, "01"), 28, "0e")

    def test_unknown_codes_name_the_nearest(self) -> None:
        with pytest.raises(BadArgument, match="did you mean register-stray-bits"):
            plan(self.odd).apply(also=["register-stray-bit"])
        with pytest.raises(BadArgument, match="no step repairs register-halted"):
            plan(self.odd).apply(only=["register-halted"])


def test_wrong_words() -> None:
    repair = plan(HEALTHY48)
    for words in ({"also": 5}, {"also": None}, {"skip": None}, {"also": [[]]}, {"only": 5}):
        with pytest.raises(BadArgument):
            repair.apply(**words)  # type: ignore[arg-type]
    with pytest.raises(BadArgument, match="contradict"):
        repair.apply(also=["latched-later"], only=["latched-later"])


def test_wrong_calls() -> None:
    with pytest.raises(BadArgument, match="past_range is unknown"):
        plan(HEALTHY48, past_range="maybe")
    with pytest.raises(BadArgument, match="neither a save nor an examination"):
        plan_repair(HEALTHY48)  # type: ignore[arg-type]


def test_the_origin_is_kept(tmp_path: pathlib.Path) -> None:
    path = tmp_path / "game.sav"
    path.write_bytes(patched(HEALTHY48, 0, "c7"))
    save = load(path)
    assert save.origin is not None
    for seen in (save, examine(dumps(save), origin=save.origin, now=NOW)):
        assert plan_repair(seen, now=NOW).apply().origin == save.origin
