"""The next overflow, the cell's life, and the calendar that reminds of both."""

from __future__ import annotations

import builtins
from dataclasses import replace
from typing import Any

import pytest
from known import HEALTHY48, NOW, REGISTERS5, STAMP, patched

from rtcsave import BadArgument, Cell, SystemFailed, WouldOverwrite, forecast, loads
from rtcsave.cells import RATED, Rating
from rtcsave.drift import assumed_drift
from rtcsave.report.calendar_file import Reminder, calendar_text
from rtcsave.when import rfc3339, unix_seconds, utc_datetime

# day 300, 13:40:07 at 2026-03-10T14:15:00Z: 44236800 - 25969207 s later is 2026-10-08T00:34:53Z
DUE = STAMP + 18_267_593


def said(value: Any) -> str | None:
    return None if value is None else rfc3339(unix_seconds(value))


def test_the_next_overflow() -> None:
    clock_forecast = forecast(loads(HEALTHY48), NOW)
    assert said(clock_forecast.overflow_at) == "2026-10-08T00:34:53Z"
    # 20 ppm of 18,267,593 s are 365.4 s; the reading and the stamp each cut off up to a second
    assert clock_forecast.earliest == utc_datetime(DUE - 367)
    assert clock_forecast.latest == utc_datetime(DUE + 367)
    assert clock_forecast.assumptions == (
        "no measured rate: earliest and latest are those of ±20 ppm, what a clock crystal may be "
        "off at 25 °C",
    )
    assert clock_forecast.days_left == 210
    assert clock_forecast.reasons == ()
    assert (clock_forecast.cell_by, clock_forecast.cell_years) == (None, None)


def test_both_ends_with_a_rate() -> None:
    clock_forecast = forecast(loads(HEALTHY48), NOW, assumed_drift(100, 10))
    # a clock 100 ppm fast gets there 1,827 s earlier; ±10 ppm are ±183 s
    assert clock_forecast.overflow_at == utc_datetime(DUE - 1_827)
    # and the reading and the stamp each cut off up to a second
    assert clock_forecast.earliest == utc_datetime(DUE - 2_011)
    assert clock_forecast.latest == utc_datetime(DUE - 1_642)
    assert clock_forecast.assumptions == ()


def test_a_rate_of_which_one_end_is_known_takes_the_other_of_a_crystal() -> None:
    drift = replace(assumed_drift(0), rate_ppm=None, low_ppm=-5.0, high_ppm=None, bound_ppm=None)
    clock_forecast = forecast(loads(HEALTHY48), NOW, drift)
    assert clock_forecast.earliest == utc_datetime(DUE - 367)
    assert clock_forecast.latest == utc_datetime(DUE + 93)  # 5 ppm are 91.3 s
    assert "±20 ppm" in clock_forecast.assumptions[0]


@pytest.mark.parametrize("late_s", [0, 1])
def test_what_the_reading_cuts_off_is_between_the_ends(late_s: int) -> None:
    # a clock that is exact, read anywhere in its second, and stamped anywhere in the second
    clock_forecast = forecast(loads(HEALTHY48), NOW, assumed_drift(0))
    assert clock_forecast.earliest == utc_datetime(DUE - 1)
    assert clock_forecast.latest == utc_datetime(DUE + 1)
    assert clock_forecast.earliest <= utc_datetime(DUE - 1 + late_s) <= clock_forecast.latest


def test_now_between_the_ends_is_said() -> None:
    assert "may have overflowed just now" in forecast(loads(HEALTHY48), DUE - 100).reasons[-1]
    after = forecast(loads(HEALTHY48), DUE + 100)
    assert "the last of them perhaps not yet" in after.reasons[-1]
    sure = forecast(loads(HEALTHY48), DUE + 400)
    assert sure.reasons[-1] == "since the stamp the counter has overflowed 1 time already"


@pytest.mark.parametrize(("late_s", "times"), [(0, 1), (1, 1), (44_236_800, 2)])
def test_after_an_overflow_the_next_is_meant(late_s: int, times: int) -> None:
    clock_forecast = forecast(loads(HEALTHY48), DUE + late_s)
    assert clock_forecast.overflow_at == utc_datetime(DUE + times * 44_236_800)
    assert f"has overflowed {times} time" in clock_forecast.reasons[-1]


@pytest.mark.parametrize("rate", [-1_250_000.0, 1e5, float("nan")])
def test_what_is_no_rate_is_refused(rate: float) -> None:
    drift = replace(assumed_drift(0), rate_ppm=rate, low_ppm=rate, high_ppm=rate)
    with pytest.raises(BadArgument, match="no rate of a clock"):
        forecast(loads(HEALTHY48), NOW, drift)


def test_wrong_arguments() -> None:
    with pytest.raises(BadArgument):
        forecast(loads(HEALTHY48), NOW, 18.0)  # type: ignore[arg-type]
    with pytest.raises(BadArgument):
        forecast(loads(HEALTHY48), NOW, cell="CR2032")  # type: ignore[arg-type]
    with pytest.raises(BadArgument):
        forecast(HEALTHY48, NOW)  # type: ignore[arg-type]


def test_halted_never() -> None:
    clock_forecast = forecast(loads(patched(HEALTHY48, 16, "41")), NOW)
    assert (clock_forecast.overflow_at, clock_forecast.days_left, clock_forecast.running_s) == (
        None,
        None,
        None,
    )
    assert clock_forecast.halted
    assert "never overflows" in clock_forecast.reasons[0]


def test_carry_is_said() -> None:
    clock_forecast = forecast(loads(patched(HEALTHY48, 16, "81")), NOW)
    assert clock_forecast.carry
    assert "carry is set already" in clock_forecast.reasons[0]


@pytest.mark.parametrize("data", [HEALTHY48[:40] + bytes(8), REGISTERS5])
def test_without_a_stamp_only_the_running_time_is_known(data: bytes) -> None:
    clock_forecast = forecast(loads(data), NOW)
    assert clock_forecast.overflow_at is None
    assert clock_forecast.running_s == 18_267_593
    assert "no usable stamp" in clock_forecast.reasons[0]


def test_a_stamp_in_the_future_is_said() -> None:
    clock_forecast = forecast(loads(HEALTHY48), STAMP - 1)
    assert clock_forecast.overflow_at == utc_datetime(DUE)
    assert "in the future" in clock_forecast.reasons[0]


class TestCell:
    def test_past_its_time_it_is_overdue(self) -> None:
        # 225 mAh at 2.5 uA with 1 % a year: 9.3 years of 365 days
        old = Cell(designation="CR2032", fitted_at=STAMP - 10 * 365 * 86_400)
        new = Cell(designation="CR2032", fitted_at=STAMP)
        assert forecast(loads(HEALTHY48), NOW, cell=old).cell_overdue
        assert not forecast(loads(HEALTHY48), NOW, cell=new).cell_overdue
        assert not forecast(loads(HEALTHY48), NOW).cell_overdue

    def test_what_nobody_measured_is_said(self) -> None:
        said = forecast(loads(HEALTHY48), NOW, cell=Cell(designation="CR2032")).assumptions
        assert said[1:] == (
            "self-discharge of 1 % a year",
            "a current of 0.5 to 2.5 µA, an assumption: measure it to know more",
            "225 mAh from memory, unconfirmed: the cell's data sheet wins",
            "the cell was put in now",
        )
        known = Cell(designation="CR1025", current_ua=1, fitted_at=STAMP)
        assert known.assumptions() == ("self-discharge of 1 % a year",)

    def test_a_cell_with_a_source_is_not_from_memory(self, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setitem(RATED, "CR9998", Rating(50.0, from_memory=False))
        assert not any("memory" in text for text in Cell(designation="CR9998").assumptions())

    def test_a_range_without_a_measured_current(self) -> None:
        cell = Cell(designation="cr2032 ", self_discharge_per_year=0, fitted_at=STAMP)
        low, high = cell.life_years()
        assert low == pytest.approx(225 / (2.5 * 8.76))
        assert high == pytest.approx(225 / (0.5 * 8.76))
        clock_forecast = forecast(loads(HEALTHY48), NOW, cell=cell)
        assert clock_forecast.cell_by == utc_datetime(STAMP + round(low * 365 * 86_400))
        assert clock_forecast.cell_latest == utc_datetime(STAMP + round(high * 365 * 86_400))

    def test_one_value_with_one(self) -> None:
        low, high = Cell(capacity_mah=48, current_ua=0.5, self_discharge_per_year=0).life_years()
        assert low == high

    @pytest.mark.parametrize(
        "wrong",
        [
            {},
            {"designation": "CR9999"},
            {"capacity_mah": 0},
            {"capacity_mah": float("inf")},
            {"capacity_mah": 48, "current_ua": -1},
            {"capacity_mah": 48, "self_discharge_per_year": 1},
            {"capacity_mah": "3"},
            {"designation": 5},
            {"capacity_mah": 1, "current_ua": 5e-324},
        ],
    )
    def test_what_is_no_cell(self, wrong: dict[str, Any]) -> None:
        with pytest.raises(BadArgument):
            Cell(**wrong)


def reminder(key: str = "a", summary: str = "Clock of a.sav", due: int = DUE) -> Reminder:
    return Reminder(
        key=key,
        due=utc_datetime(due),
        summary=summary,
        description="x" * 100 + ", with ünicode; and a comma",
        days_before=14,
    )


OTHERS = b"BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//other//EN\r\nEND:VCALENDAR\r\n"


class TestCalendar:
    def test_the_bytes_are_what_the_standard_asks(self) -> None:
        data = calendar_text([reminder()], NOW)
        lines = data.split(b"\r\n")
        assert lines[-1] == b""
        # RFC 5545 section 3.1: no line is longer than 75 octets, folded by CRLF and a blank
        assert all(len(line) <= 75 for line in lines)
        assert b"\n" not in data.replace(b"\r\n", b"")
        assert any(line.startswith(b" ") for line in lines)
        unfolded = data.replace(b"\r\n ", b"").split(b"\r\n")
        # section 3.6: a calendar needs PRODID and VERSION 2.0
        assert unfolded[0] == b"BEGIN:VCALENDAR"
        assert b"VERSION:2.0" in unfolded
        assert any(line.startswith(b"PRODID:-//rtcsave//") for line in unfolded)
        # section 3.6.1: an event needs UID, DTSTAMP and DTSTART; in UTC
        assert b"DTSTAMP:20260311T141500Z" in unfolded
        assert b"DTSTART:20260924T003453Z" in unfolded
        assert sum(line.startswith(b"UID:") for line in unfolded) == 1
        # section 3.6.6: an alarm needs ACTION and TRIGGER, DISPLAY adds DESCRIPTION
        alarm = unfolded[unfolded.index(b"BEGIN:VALARM") : unfolded.index(b"END:VALARM")]
        assert b"ACTION:DISPLAY" in alarm
        assert b"TRIGGER:-P1D" in alarm
        assert b"DESCRIPTION:Clock of a.sav" in alarm

    def test_the_library_reads_it_back(self) -> None:
        import icalendar

        calendar = icalendar.Calendar.from_ical(calendar_text([reminder(), reminder("b")], NOW))
        events = calendar.walk("VEVENT")
        assert [str(event["summary"]) for event in events] == ["Clock of a.sav"] * 2
        assert str(events[0]["description"]) == "x" * 100 + ", with ünicode; and a comma"

    def test_written_again_it_is_updated_and_not_repeated(self) -> None:
        first = calendar_text([reminder(), reminder("b")], NOW)
        again = calendar_text([reminder(summary="Clock of a, moved")], NOW + 60, first)
        assert again.count(b"BEGIN:VEVENT") == 2
        assert again.count(b"Clock of a\\, moved") == 2  # the event and its alarm
        assert calendar_text([reminder()], NOW, calendar_text([reminder()], NOW)) == (
            calendar_text([reminder()], NOW)
        )

    def test_an_event_is_never_in_the_past(self) -> None:
        soon = calendar_text([reminder(due=NOW + 86_400)], NOW)
        assert b"DTSTART:20260311T141500Z" in soon
        assert b"TRIGGER:P0D" in soon

    def test_an_event_that_is_no_more_goes(self) -> None:
        both = calendar_text([reminder("a"), reminder("b")], NOW)
        assert calendar_text([], NOW, both, [reminder("a").uid]).count(b"BEGIN:VEVENT") == 1

    def test_the_key_makes_the_uid(self) -> None:
        assert reminder("a").uid == reminder("a", "other words").uid
        assert reminder("a").uid != reminder("b").uid

    @pytest.mark.parametrize(
        "other",
        [
            b"precious",
            b"",
            b"BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//other//EN\r\nEND:VCALENDAR\r\n",
        ],
    )
    def test_what_another_program_wrote_is_left(self, other: bytes) -> None:
        with pytest.raises(WouldOverwrite):
            calendar_text([reminder()], NOW, other)

    def test_without_the_library_it_says_how_to_get_it(
        self, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        real = builtins.__import__

        def without(name: str, *args: Any, **kwargs: Any) -> Any:
            if name == "icalendar":
                raise ImportError(name)
            return real(name, *args, **kwargs)

        monkeypatch.setattr(builtins, "__import__", without)
        with pytest.raises(SystemFailed, match=r"rtcsave\[calendar\]"):
            calendar_text([reminder()], NOW)
