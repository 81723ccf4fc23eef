"""A survey as one self-contained page: no network, every text from a file escaped."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any, Final

from rtcsave.cells import CAUTIONS
from rtcsave.collection import History, SurveyRow
from rtcsave.collection.rows import said_codes, said_now
from rtcsave.collection.shelf import Shelf
from rtcsave.drift import assumed_drift
from rtcsave.errors import SystemFailed, escaped, number_of
from rtcsave.findings import FINDINGS, SEVERITIES, rank_of
from rtcsave.forecasts import forecast
from rtcsave.savefile import SaveFile
from rtcsave.when import say_instant, utc_datetime

TEMPLATE: Final = Path(__file__).with_name("shelf.html.jinja")
SOON_DAYS: Final = 90
MONTHS: Final = 12
YEARS: Final = 16
_BAR: Final = 52
_TALLEST: Final = 105
_NEVER: Final = 10**9
_COLUMNS: Final = (
    ("File", False),
    ("Clock now", False),
    ("Saved", False),
    ("Days to overflow", True),
    ("Findings", False),
)
_OF_A_REGISTER: Final = (("Title", False), ("Change the cell by", False))
_PLURALS: Final = {"error": "with an error", "warning": "with a warning", "note": "with a note"}


def template() -> Any:
    """The template of the page; `SystemFailed` if jinja2 is missing."""
    try:
        from jinja2 import Environment
    except ImportError:
        raise SystemFailed(
            "pages need the jinja2 package",
            remedy='install it: python -m pip install "rtcsave[report]"',
        ) from None
    environment = Environment(autoescape=True)
    return environment.from_string(TEMPLATE.read_text(encoding="utf-8"))


def shelf_page(
    rows: Sequence[SurveyRow],
    now_s: int,
    in_words: Callable[[str], str] = str,
    shelf: Shelf | None = None,
    series: Sequence[tuple[str, History]] = (),
) -> bytes:
    """The page of a survey, in the order of its rows; `in_words` says remedies in somebody's options.

    With a register the days to the overflow are those by each cartridge's own rate, and its cell has a
    month. `series` are histories of cartridges by their names. `SystemFailed` if jinja2 is missing.
    """
    by_worst = Counter(row.worst or "healthy" for row in rows)
    soon = sum(_is_soon(row) for row in rows)
    glance = [("saves", f"{len(rows):,}", ""), ("healthy", f"{by_worst['healthy']:,}", "healthy")]
    glance += [
        (_PLURALS[severity], f"{by_worst[severity]:,}", severity)
        for severity in reversed(SEVERITIES)
        if by_worst[severity]
    ]
    glance.append((f"overflow within {SOON_DAYS} days", f"{soon:,}", "warning" if soon else ""))
    text: str = template().render(
        title=f"Survey of {number_of(len(rows), 'save')}",
        made=say_instant(now_s),
        glance=glance,
        first=_first_lines(rows),
        charts=[chart for chart in (_overflows(rows, now_s), _stamps(rows, now_s)) if chart],
        columns=_COLUMNS if shelf is None else (*_OF_A_REGISTER, *_COLUMNS),
        rows=[_row(row, shelf) for row in rows],
        cautions=() if shelf is None else CAUTIONS,
        series=[(escaped(name), len(history.saves), _rate(history)) for name, history in series],
        findings=_explained(rows, in_words),
    )
    return text.encode("utf-8", "backslashreplace")


def _is_soon(row: SurveyRow) -> bool:
    days = row.days_to_overflow
    return days is not None and days <= SOON_DAYS


def _first_lines(rows: Sequence[SurveyRow]) -> list[str]:
    """Who must be looked at first, in words."""
    dated = [(row.days_to_overflow, row.path) for row in rows if row.days_to_overflow is not None]
    lines = []
    if dated:
        days, path = min(dated)
        lines.append(f"The next counter overflows in {number_of(days, 'day')}: {escaped(path)}.")
    unknown = sum(row.block is not None and row.saved_at is None for row in rows)
    if unknown:
        lines.append(f"{number_of(unknown, 'clock')} cannot be dated: no usable stamp.")
    return lines


def _rate(history: History) -> str:
    """The drift of a series, in words, or why there is none."""
    if history.drift is not None and history.drift.rate_ppm is not None:
        bound = "" if history.drift.bound_ppm is None else f" ± {history.drift.bound_ppm:.1f}"
        return f"{history.drift.rate_ppm:+.1f}{bound} ppm"
    return escaped("; ".join(history.problems)) or "unknown"


def _known(row: SurveyRow, shelf: Shelf) -> tuple[str, str, int | None]:
    """The title, the month of the cell and the days to the overflow, as a register makes them."""
    entry = shelf.of(row.path)
    days = row.days_to_overflow
    if entry is None or row.block is None or row.clock_now is None:
        return "" if entry is None else entry.title, "", days
    drift = None if entry.rate_ppm is None else assumed_drift(entry.rate_ppm)
    save = SaveFile(memory=b"", block=row.block)
    clock_forecast = forecast(save, row.now_s, drift, entry.cell)
    month = "" if clock_forecast.cell_by is None else f"{clock_forecast.cell_by:%Y-%m}"
    return entry.title, month, clock_forecast.days_left


def _row(row: SurveyRow, shelf: Shelf | None) -> dict[str, Any]:
    saved_at, days = row.saved_at, row.days_to_overflow
    cells: list[dict[str, Any]] = []
    if shelf is not None:
        title, month, days = _known(row, shelf)
        cells = [{"text": escaped(title), "sort": None}, {"text": month, "sort": None}]
    problem = said_codes(row) or row.error or ""
    return {
        "rank": rank_of(row.worst),
        "tone": row.worst or "",
        "cells": [
            *cells,
            {"text": escaped(row.path), "sort": None},
            {"text": said_now(row), "sort": None},
            {"text": "" if saved_at is None else f"{saved_at:%Y-%m-%d}", "sort": None},
            {"text": "" if days is None else f"{days:,}", "sort": _NEVER if days is None else days},
            {"text": escaped(f"{row.worst}: {problem}") if row.worst else "healthy", "sort": None},
        ],
    }


def _chart(title: str, about: str, counts: Sequence[tuple[str, int]]) -> dict[str, Any] | None:
    """Bars, one a label; None where there is nothing to show."""
    most = max((count for _, count in counts), default=0)
    if not most:
        return None
    bars = []
    for at, (label, count) in enumerate(counts):
        height = max(2, round(_TALLEST * count / most)) if count else 0
        bars.append(
            {
                "x": at * _BAR + 6,
                "y": 20 + _TALLEST - height,
                "width": _BAR - 12,
                "height": height,
                "middle": at * _BAR + _BAR // 2,
                "count": count,
                "label": label,
            }
        )
    words = ", ".join(f"{label}: {count}" for label, count in counts if count)
    return {
        "title": title,
        "about": about,
        "bars": bars,
        "width": max(_BAR * len(counts), MONTHS * _BAR),
        "words": words,
    }


def _overflows(rows: Sequence[SurveyRow], now_s: int) -> dict[str, Any] | None:
    """The counters that overflow in each of the next twelve months."""
    first = utc_datetime(now_s)
    months = [_month(first, at) for at in range(MONTHS)]
    dates = [row.overflow_at for row in rows]
    counted = Counter(f"{date:%Y-%m}" for date in dates if date is not None)
    return _chart(
        "Counters that overflow, month by month",
        "Start each game before its month: it must look at its clock at least once in 511 days.",
        [(month, counted[month]) for month in months],
    )


def _month(first: datetime, later: int) -> str:
    year, month = divmod(first.year * 12 + first.month - 1 + later, 12)
    return f"{year:04d}-{month + 1:02d}"


def _stamps(rows: Sequence[SurveyRow], now_s: int) -> dict[str, Any] | None:
    """How many saves were written in each year."""
    last = utc_datetime(now_s).year
    years = Counter(row.saved_at.year for row in rows if row.saved_at is not None)
    known = [year for year in years if last - YEARS < year <= last]
    if not known:
        return None
    return _chart(
        "When the saves were written",
        f"By the year of the stamp, of the last {YEARS} years.",
        [(str(year), years[year]) for year in range(min(known), last + 1)],
    )


def _explained(rows: Sequence[SurveyRow], in_words: Callable[[str], str]) -> list[dict[str, Any]]:
    """Each kind of finding that was seen: what it means, what helps, in how many saves."""
    counted = Counter(code for row in rows for code in {f.code for f in row.findings})
    known = [FINDINGS[code] for code in counted]
    known.sort(key=lambda kind: (-rank_of(kind.severity), -counted[kind.code], kind.code))
    return [
        {
            "code": kind.code,
            "severity": kind.severity,
            "title": kind.title,
            "remedy": in_words(kind.remedy),
            "count": number_of(counted[kind.code], "save"),
        }
        for kind in known
    ]
