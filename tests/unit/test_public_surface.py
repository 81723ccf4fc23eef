"""What a user's editor and debugger show: fields with words, short reprs, names that exist."""

from __future__ import annotations

import ast
import dataclasses
import inspect
import pathlib
import subprocess
import sys
import textwrap

import pytest
from known import HEALTHY48, NOW, memory, patched

import rtcsave

CLASSES = [
    value
    for name in rtcsave.__all__
    if inspect.isclass(value := getattr(rtcsave, name)) and dataclasses.is_dataclass(value)
]
SAVE = rtcsave.loads(memory(131_072) + patched(HEALTHY48, 0, "3d"))
PLAN = rtcsave.plan_repair(SAVE, now=NOW)
VALUES = [
    SAVE,
    SAVE.clock_block,
    SAVE.clock_block.layout,
    rtcsave.examine(rtcsave.dumps(SAVE), now=NOW),
    rtcsave.examine(bytes(100_000), now=NOW),
    *rtcsave.check(SAVE, now=NOW),
    PLAN,
    *PLAN.steps,
    *PLAN.steps[0].changes,
    rtcsave.compare(SAVE, PLAN.apply()),
    rtcsave.forecast(PLAN.apply(), now=NOW),
    rtcsave.sequence_to_read("calendar"),
    rtcsave.CounterChip(),
    rtcsave.MinuteChip(),
    rtcsave.CalendarChip(),
    rtcsave.CounterClock.from_reading("12d03:04:05"),
    rtcsave.StampForm(),
]


def attribute_words(kind: type) -> set[str]:
    """The fields of a class that have a docstring of their own below them."""
    (tree,) = ast.parse(textwrap.dedent(inspect.getsource(kind))).body
    assert isinstance(tree, ast.ClassDef)
    return {
        node.target.id
        for node, after in zip(tree.body, tree.body[1:], strict=False)
        if isinstance(node, ast.AnnAssign)
        and isinstance(node.target, ast.Name)
        and isinstance(after, ast.Expr)
    }


@pytest.mark.parametrize("kind", CLASSES, ids=lambda kind: kind.__name__)
def test_every_field_is_explained(kind: type) -> None:
    said = inspect.getdoc(kind) or ""
    words = attribute_words(kind)
    fields = [field.name for field in dataclasses.fields(kind) if not field.name.startswith("_")]
    assert [f for f in fields if f not in words and f"`{f}`" not in said] == []


@pytest.mark.parametrize("value", VALUES, ids=lambda value: type(value).__name__)
def test_a_repr_is_a_line(value: object) -> None:
    assert len(repr(value)) <= 260
    assert "\n" not in repr(value)
    assert type(value).__name__ in repr(value)


def test_every_public_callable_has_words() -> None:
    for name in rtcsave.__all__:
        value = getattr(rtcsave, name)
        if callable(value):
            assert inspect.getdoc(value), name


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("12d03:04:05", rtcsave.CounterClock),
        ("511d23:59:59", rtcsave.CounterClock),
        ("12d03:04", rtcsave.MinuteClock),
        ("12d+1500min", rtcsave.MinuteClock),
        ("26-03-10 14:15:00", rtcsave.CalendarClock),
        ("00-02-29 00:00:00", rtcsave.CalendarClock),
    ],
)
def test_a_reading_is_read_back(text: str, kind: type[rtcsave.Clock]) -> None:
    assert kind.from_reading(text).reading() == text


def test_a_reading_of_another_clock_is_refused() -> None:
    for text in ("26-03-10 14:15:00", "512d00:00:00", "12d24:00:00", "x", ""):
        with pytest.raises(rtcsave.BadArgument):
            rtcsave.CounterClock.from_reading(text)


def test_buffers_of_every_kind_are_taken() -> None:
    import array

    data = memory() + HEALTHY48
    for given in (bytearray(data), memoryview(data), array.array("B", data), memoryview(data)[::1]):
        assert rtcsave.loads(given) == rtcsave.loads(data)
        assert rtcsave.examine(given, now=NOW).data == data
    assert rtcsave.CounterClock.from_registers(bytearray(5)).reading() == "0d00:00:00"
    for wrong in ("text", None, 5, [1]):
        with pytest.raises(rtcsave.BadArgument):
            rtcsave.loads(wrong)  # type: ignore[arg-type]


def test_a_module_is_reached_from_the_package_alone() -> None:
    code = "import rtcsave; print(rtcsave.chips.CounterChip.kind, rtcsave.when.rfc3339(0))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "counter 1970-01-01T00:00:00Z\n"


def test_type_checkers_see_no_name_that_is_not_there(tmp_path: pathlib.Path) -> None:
    from mypy import api

    script = tmp_path / "script.py"
    script.write_text("import rtcsave\nrtcsave.SaveFle\nrtcsave.SaveFile\n", encoding="utf-8")
    out, _, code = api.run(["--no-incremental", "--follow-imports=silent", str(script)])
    assert code == 1
    assert 'has no attribute "SaveFle"' in out
    assert out.count("error:") == 1
