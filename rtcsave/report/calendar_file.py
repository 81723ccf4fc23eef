"""Calendar files (RFC 5545): an event before a counter overflows, and one before a cell is due."""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any, Final

from rtcsave.errors import SystemFailed, WouldOverwrite, escaped
from rtcsave.units import DAY_S, VERSION
from rtcsave.when import unix_seconds, utc_datetime

if TYPE_CHECKING:
    from icalendar import Calendar

PRODID: Final = f"-//rtcsave//rtcsave {VERSION}//EN"
_OURS: Final = "-//rtcsave//"
_NAMESPACE: Final = uuid.UUID("6c1de0c5-6a0b-5e0f-9d7e-2f6f6f1c8a11")


@dataclass(frozen=True, slots=True, kw_only=True)
class Reminder:
    """One event: what it is about (`key`, stable, of which the UID is made), when, and its words.

    The event is `days_before` days before `due`, or now if that is past; its alarm rings a day
    before it, or with it where that would be past.
    """

    key: str
    due: datetime
    summary: str
    description: str
    days_before: int

    @property
    def uid(self) -> str:
        """The same for the same key on every machine: writing again updates and does not double."""
        return uid_of(self.key)


def uid_of(key: str) -> str:
    """The UID of the event that a key is about."""
    text = key.encode("utf-8", "backslashreplace").decode("utf-8")  # a name need not be text
    return f"{uuid.uuid5(_NAMESPACE, text)}@rtcsave"


def is_ours(existing: bytes) -> bool:
    """Whether some bytes are a calendar that rtcsave wrote."""
    return _parsed(_library(), existing) is not None


def calendar_text(
    reminders: Iterable[Reminder],
    now_s: int,
    existing: bytes | None = None,
    gone: Iterable[str] = (),
) -> bytes:
    """A calendar with these events, in UTC; events of `existing` with other UIDs are kept.

    `gone` are the UIDs of events that there are no more.

    `WouldOverwrite` if the existing file is not one of ours, `SystemFailed` if icalendar is missing.
    """
    icalendar = _library()
    calendar = icalendar.Calendar() if existing is None else _ours(icalendar, existing)
    if existing is None:
        calendar.add("prodid", PRODID)
        calendar.add("version", "2.0")
    _escape_texts(calendar)
    events = list(reminders)
    ours = {reminder.uid for reminder in events} | set(gone)
    calendar.subcomponents = [
        component
        for component in calendar.subcomponents
        if str(component.get("uid", "")) not in ours
    ]
    for reminder in events:
        calendar.add_component(_event(icalendar, reminder, now_s))
    text = calendar.to_ical()
    assert isinstance(text, bytes)
    return text


def _event(icalendar: Any, reminder: Reminder, now_s: int) -> Any:
    """The event of a reminder, with its alarm."""
    event = icalendar.Event()
    event.add("uid", reminder.uid)
    event.add("dtstamp", utc_datetime(now_s))
    due_s = unix_seconds(reminder.due)
    starts = utc_datetime(max(due_s - reminder.days_before * DAY_S, now_s))
    day_before = unix_seconds(starts) - DAY_S >= now_s
    event.add("dtstart", starts)
    event.add("summary", escaped(reminder.summary))
    event.add("description", escaped(reminder.description))
    alarm = icalendar.Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("trigger", timedelta(days=-1 if day_before else 0))
    alarm.add("description", escaped(reminder.summary))
    event.add_component(alarm)
    return event


def _escape_texts(calendar: Any) -> None:
    """Escape what steers a terminal in the texts of the events that are kept."""
    for component in calendar.walk():
        for name in ("summary", "description"):
            text = component.get(name)
            if text is not None and escaped(str(text)) != str(text):
                del component[name]
                component.add(name, escaped(str(text)))


def _library() -> Any:
    try:
        import icalendar
    except ImportError:
        raise SystemFailed(
            "calendar files need the icalendar package",
            remedy='install it: python -m pip install "rtcsave[calendar]"',
        ) from None
    return icalendar


def _parsed(icalendar: Any, existing: bytes) -> Calendar | None:
    try:
        calendar = icalendar.Calendar.from_ical(existing)
        ours = str(calendar.get("prodid", "")).startswith(_OURS)
    except Exception:  # whatever the library raises of a file that is none
        return None
    return calendar if ours else None


def _ours(icalendar: Any, existing: bytes) -> Calendar:
    calendar = _parsed(icalendar, existing)
    if calendar is None:
        raise WouldOverwrite(
            "the calendar file there is not one that this program wrote",
            remedy="choose another name, or replace it (`overwrite`); import both into yours",
        )
    return calendar
