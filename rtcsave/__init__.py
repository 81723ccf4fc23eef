"""Battery-backed clocks in the saves of 8-bit handheld cartridges: read, judge, count on, mend.

>>> import rtcsave
>>> save = rtcsave.load("game.sav")                    # doctest: +SKIP
>>> rtcsave.dump(save.advance_to(1735689600), "game.sav")   # doctest: +SKIP

Each name is loaded when it is first used: importing the package costs next to nothing.
"""

from __future__ import annotations

TYPE_CHECKING = False
if TYPE_CHECKING:
    from rtcsave.chips import (
        CalendarChip,
        CounterChip,
        MinuteChip,
        Sequence,
        sequence_to_read,
        sequence_to_write,
    )
    from rtcsave.clocks import Bits, CalendarClock, Clock, CounterClock, MinuteClock
    from rtcsave.comparison import Comparison, Verdict, compare, verify
    from rtcsave.corrections import correct, rate_shift, recount, shift_between, zone_shift
    from rtcsave.differences import ByteChange, FieldChange
    from rtcsave.drift import DriftEstimate, DriftSegment, Observation, fit_drift
    from rtcsave.elapsed_time import Elapsed, elapsed
    from rtcsave.errors import (
        AmbiguousLayout,
        BadArgument,
        BadDescription,
        BlockCutShort,
        ChangedUnderneath,
        DoesNotFit,
        EmptyFile,
        FileFault,
        FileMissing,
        NoBackup,
        NoClock,
        NotAClockBlock,
        NotARegularFile,
        NotTaken,
        Refused,
        RtcSaveError,
        StampUnusable,
        SystemFailed,
        TooLarge,
        UnknownLength,
        WouldOverflow,
        WouldOverwrite,
    )
    from rtcsave.findings import Examination, Finding, check, examine
    from rtcsave.forecasts import Cell, Forecast, forecast
    from rtcsave.header import Header, read_header
    from rtcsave.layouts import Checksum, ClockBlock, Field, Layout
    from rtcsave.layouts.description import describe
    from rtcsave.layouts.evidence import Candidate
    from rtcsave.repair import Need, RepairPlan, Step, plan_repair
    from rtcsave.savefile import Origin, SaveFile, dumps, loads
    from rtcsave.stamps import StampForm
    from rtcsave.storage.backups import Backup, backups, restore
    from rtcsave.storage.described import read_layout, read_layouts
    from rtcsave.storage.reading import load, read
    from rtcsave.storage.writing import Written, dump
    from rtcsave.units import VERSION as __version__

_MODULES = {
    "chips": "CalendarChip CounterChip MinuteChip Sequence sequence_to_read sequence_to_write",
    "clocks": "Bits CalendarClock Clock CounterClock MinuteClock",
    "comparison": "Comparison Verdict compare verify",
    "corrections": "correct rate_shift recount shift_between zone_shift",
    "differences": "ByteChange FieldChange",
    "drift": "DriftEstimate DriftSegment Observation fit_drift",
    "elapsed_time": "Elapsed elapsed",
    "forecasts": "Cell Forecast forecast",
    "header": "Header read_header",
    "errors": "AmbiguousLayout BadArgument BadDescription BlockCutShort ChangedUnderneath "
    "DoesNotFit EmptyFile FileFault FileMissing NoBackup NoClock NotAClockBlock NotARegularFile "
    "NotTaken Refused RtcSaveError StampUnusable SystemFailed TooLarge UnknownLength WouldOverflow "
    "WouldOverwrite",
    "findings": "Examination Finding check examine",
    "layouts": "Checksum ClockBlock Field Layout",
    "layouts.description": "describe",
    "storage.described": "read_layout read_layouts",
    "layouts.evidence": "Candidate",
    "repair": "Need RepairPlan Step plan_repair",
    "savefile": "Origin SaveFile dumps loads",
    "stamps": "StampForm",
    "storage.backups": "Backup backups restore",
    "storage.reading": "load read",
    "storage.writing": "Written dump",
}
_MODULE_OF = {name: module for module, names in _MODULES.items() for name in names.split()}

__all__ = [
    "AmbiguousLayout",
    "Backup",
    "BadArgument",
    "BadDescription",
    "Bits",
    "BlockCutShort",
    "ByteChange",
    "CalendarChip",
    "CalendarClock",
    "Candidate",
    "Cell",
    "ChangedUnderneath",
    "Checksum",
    "Clock",
    "ClockBlock",
    "Comparison",
    "CounterChip",
    "CounterClock",
    "DoesNotFit",
    "DriftEstimate",
    "DriftSegment",
    "Elapsed",
    "EmptyFile",
    "Examination",
    "Field",
    "FieldChange",
    "FileFault",
    "FileMissing",
    "Finding",
    "Forecast",
    "Header",
    "Layout",
    "MinuteChip",
    "MinuteClock",
    "Need",
    "NoBackup",
    "NoClock",
    "NotAClockBlock",
    "NotARegularFile",
    "NotTaken",
    "Observation",
    "Origin",
    "Refused",
    "RepairPlan",
    "RtcSaveError",
    "SaveFile",
    "Sequence",
    "StampForm",
    "StampUnusable",
    "Step",
    "SystemFailed",
    "TooLarge",
    "UnknownLength",
    "Verdict",
    "WouldOverflow",
    "WouldOverwrite",
    "Written",
    "__version__",
    "backups",
    "check",
    "compare",
    "correct",
    "describe",
    "dump",
    "dumps",
    "elapsed",
    "examine",
    "fit_drift",
    "forecast",
    "load",
    "loads",
    "plan_repair",
    "rate_shift",
    "read",
    "read_header",
    "read_layout",
    "read_layouts",
    "recount",
    "restore",
    "sequence_to_read",
    "sequence_to_write",
    "shift_between",
    "verify",
    "zone_shift",
]


def __getattr__(name: str) -> object:
    if name == "__version__":
        from rtcsave.units import VERSION

        found: object = VERSION
    elif name in _MODULE_OF:
        from importlib import import_module

        found = getattr(import_module(f"rtcsave.{_MODULE_OF[name]}"), name)
    else:
        raise AttributeError(f"module 'rtcsave' has no attribute {name!r}")
    globals()[name] = found
    return found


def __dir__() -> list[str]:
    return sorted(__all__)
