"""Battery-backed clocks in the saves of 8-bit handheld cartridges: read, check, advance, repair.

>>> import rtcsave
>>> data = bytes(2_048) + rtcsave.ClockBlock.new(
...     rtcsave.CounterClock.from_reading("212d13:40:07"), saved_at=1_773_152_100
... ).raw
>>> save = rtcsave.loads(data)
>>> save.clock_block.running.reading(), str(save.saved_at)
('212d13:40:07', '2026-03-10 14:15:00+00:00')
>>> save.advance_to(1_773_152_100 + 86_400).clock_block.running.reading()
'213d13:40:07'

Each name is loaded when it is first used: importing the package costs next to nothing.
"""

from __future__ import annotations

TYPE_CHECKING = False
if TYPE_CHECKING:
    from rtcsave.buffers import (
        Buffer,
    )
    from rtcsave.cells import Cell
    from rtcsave.chips import (
        Access,
        AccessSequence,
        AnyChip,
        Bus,
        CalendarChip,
        CalendarState,
        CounterChip,
        CounterState,
        MinuteChip,
        MinuteState,
        chip_of,
        sequence_to_read,
        sequence_to_write,
    )
    from rtcsave.clocks import (
        Bits,
        CalendarClock,
        Clock,
        ClockField,
        CounterClock,
        MinuteClock,
        OutOfRange,
        Register,
    )
    from rtcsave.collection import (
        BatchPlan,
        BatchResult,
        FileOutcome,
        History,
        HistoryStep,
        PlannedFile,
        PlannedStep,
        SurveyRow,
        apply_batch,
        history,
        plan_batch,
        survey,
        undo_batch,
    )
    from rtcsave.comparison import (
        Comparison,
        Verdict,
        compare,
        verify,
    )
    from rtcsave.conformance import ConformanceReport
    from rtcsave.corrections import (
        correct,
        rate_shift,
        recount,
        shift_between,
        zone_shift,
    )
    from rtcsave.differences import (
        ByteChange,
        FieldChange,
    )
    from rtcsave.drift import (
        DriftEstimate,
        DriftSegment,
        Observation,
        fit_drift,
    )
    from rtcsave.elapsed_time import (
        Elapsed,
        Explanation,
        elapsed,
    )
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
    from rtcsave.findings import (
        FINDINGS,
        Examination,
        Finding,
        FindingKind,
        check,
        examine,
    )
    from rtcsave.forecasts import (
        Forecast,
        forecast,
    )
    from rtcsave.header import (
        Header,
        read_header,
    )
    from rtcsave.layouts import (
        LAYOUTS,
        Checksum,
        ClockBlock,
        Field,
        Layout,
    )
    from rtcsave.layouts.description import (
        describe,
    )
    from rtcsave.layouts.evidence import (
        Candidate,
    )
    from rtcsave.repair import (
        Need,
        RepairPlan,
        Step,
        plan_repair,
    )
    from rtcsave.savefile import (
        Origin,
        SaveFile,
        dumps,
        loads,
    )
    from rtcsave.stamps import (
        StampForm,
    )
    from rtcsave.storage.backups import restore
    from rtcsave.storage.beside import Backup, backups
    from rtcsave.storage.changes import FileWritten, Written
    from rtcsave.storage.described import (
        read_layout,
        read_layouts,
    )
    from rtcsave.storage.dumping import dump
    from rtcsave.storage.reading import (
        load,
        read,
    )
    from rtcsave.units import VERSION as __version__
    from rtcsave.when import (
        Instant,
        Seconds,
        Zone,
    )

_MODULES = {
    "chips": "Access AccessSequence AnyChip Bus CalendarChip CalendarState CounterChip CounterState "
    "MinuteChip MinuteState chip_of sequence_to_read "
    "sequence_to_write",
    "clocks": "Bits CalendarClock Clock ClockField CounterClock MinuteClock OutOfRange Register",
    "comparison": "Comparison Verdict compare verify",
    "collection": "BatchPlan BatchResult FileOutcome History HistoryStep PlannedFile PlannedStep "
    "SurveyRow apply_batch history plan_batch survey undo_batch",
    "conformance": "ConformanceReport",
    "corrections": "correct rate_shift recount shift_between zone_shift",
    "differences": "ByteChange FieldChange",
    "drift": "DriftEstimate DriftSegment Observation fit_drift",
    "elapsed_time": "Elapsed Explanation elapsed",
    "cells": "Cell",
    "forecasts": "Forecast forecast",
    "header": "Header read_header",
    "errors": "AmbiguousLayout BadArgument BadDescription BlockCutShort ChangedUnderneath "
    "DoesNotFit EmptyFile FileFault FileMissing NoBackup NoClock NotAClockBlock "
    "NotARegularFile NotTaken Refused RtcSaveError StampUnusable SystemFailed TooLarge "
    "UnknownLength WouldOverflow WouldOverwrite",
    "findings": "FINDINGS Examination Finding FindingKind check examine",
    "layouts": "LAYOUTS Checksum ClockBlock Field Layout",
    "layouts.description": "describe",
    "storage.described": "read_layout read_layouts",
    "layouts.evidence": "Candidate",
    "repair": "Need RepairPlan Step plan_repair",
    "savefile": "Origin SaveFile dumps loads",
    "stamps": "StampForm",
    "storage.backups": "restore",
    "storage.beside": "Backup backups",
    "storage.reading": "load read",
    "storage.dumping": "dump",
    "storage.changes": "FileWritten Written",
    "buffers": "Buffer",
    "when": "Instant Seconds Zone",
}
_MODULE_OF = {name: module for module, names in _MODULES.items() for name in names.split()}

__all__ = [
    "FINDINGS",
    "LAYOUTS",
    "Access",
    "AccessSequence",
    "AmbiguousLayout",
    "AnyChip",
    "Backup",
    "BadArgument",
    "BadDescription",
    "BatchPlan",
    "BatchResult",
    "Bits",
    "BlockCutShort",
    "Buffer",
    "Bus",
    "ByteChange",
    "CalendarChip",
    "CalendarClock",
    "CalendarState",
    "Candidate",
    "Cell",
    "ChangedUnderneath",
    "Checksum",
    "Clock",
    "ClockBlock",
    "ClockField",
    "Comparison",
    "ConformanceReport",
    "CounterChip",
    "CounterClock",
    "CounterState",
    "DoesNotFit",
    "DriftEstimate",
    "DriftSegment",
    "Elapsed",
    "EmptyFile",
    "Examination",
    "Explanation",
    "Field",
    "FieldChange",
    "FileFault",
    "FileMissing",
    "FileOutcome",
    "FileWritten",
    "Finding",
    "FindingKind",
    "Forecast",
    "Header",
    "History",
    "HistoryStep",
    "Instant",
    "Layout",
    "MinuteChip",
    "MinuteClock",
    "MinuteState",
    "Need",
    "NoBackup",
    "NoClock",
    "NotAClockBlock",
    "NotARegularFile",
    "NotTaken",
    "Observation",
    "Origin",
    "OutOfRange",
    "PlannedFile",
    "PlannedStep",
    "Refused",
    "Register",
    "RepairPlan",
    "RtcSaveError",
    "SaveFile",
    "Seconds",
    "StampForm",
    "StampUnusable",
    "Step",
    "SurveyRow",
    "SystemFailed",
    "TooLarge",
    "UnknownLength",
    "Verdict",
    "WouldOverflow",
    "WouldOverwrite",
    "Written",
    "Zone",
    "__version__",
    "apply_batch",
    "backups",
    "check",
    "chip_of",
    "compare",
    "correct",
    "describe",
    "dump",
    "dumps",
    "elapsed",
    "examine",
    "fit_drift",
    "forecast",
    "history",
    "load",
    "loads",
    "plan_batch",
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
    "survey",
    "undo_batch",
    "verify",
    "zone_shift",
]

if not TYPE_CHECKING:  # for type checkers a misspelt name is an error

    def __getattr__(name: str) -> object:
        """Load a public name, or a module of the package, when it is first used."""
        from importlib import import_module

        if name == "__version__":
            from rtcsave.units import VERSION

            value: object = VERSION
        elif name in _MODULE_OF:
            value = getattr(import_module(f"rtcsave.{_MODULE_OF[name]}"), name)
        elif name in _SUBMODULES:
            value = import_module(f"rtcsave.{name}")
        else:
            raise AttributeError(f"module 'rtcsave' has no attribute {name!r}")
        globals()[name] = value
        return value


_SUBMODULES = frozenset(name.partition(".")[0] for name in _MODULES) | {
    "regress",
    "report",
    "storage",
    "strategies",
}


def __dir__() -> list[str]:
    return sorted(__all__)
