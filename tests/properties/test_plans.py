"""Plans of repair: never a byte of memory unasked, whatever is described; twice is once."""

from __future__ import annotations

import contextlib
from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from known import HEALTHY44, HEALTHY48, HEALTHY48_BE, MEMORY_SIZES, NOW, memory, patched

from rtcsave import FileFault, Layout, describe, dumps, examine, plan_repair
from rtcsave.findings import FINDINGS, duplicates

LOOSE: dict[str, Any] = {
    "name": "loose",
    "size": 176,
    "field": [{"offset": 0, "holds": "day_counter", "bytes": 1}],
    "stamp": {"offset": 4, "bytes": 4},
}
CODES = [fault.code for fault in FINDINGS.values() if fault.repairs is not None]


@st.composite
def loose_layouts(draw: st.DrawFn) -> Layout:
    """A layout that hardly says anything: a byte or two of a clock, perhaps a stamp, much padding."""
    size = draw(st.one_of(st.integers(8, 64), st.sampled_from((128, 176, 256, 304, 512, 1_024))))
    table: dict[str, Any] = {
        "name": f"loose{size}-{draw(st.integers(0, 9))}",
        "size": size,
        "field": [
            {"offset": 0, "holds": draw(st.sampled_from(("seconds", "hours", "day_counter")))}
        ],
    }
    if draw(st.booleans()):
        table["stamp"] = {"offset": 4, "bytes": 4, "signed": False}
    return describe(table)


@st.composite
def files(draw: st.DrawFn) -> tuple[bytes, int]:
    """A file, and how many of its first bytes could be memory: the largest legal length."""
    size = draw(st.sampled_from((0, 256, 512, 2_048)))
    image = draw(st.binary(min_size=size, max_size=size)) if size < 600 else memory(size)
    tails = (b"", HEALTHY48, HEALTHY44, HEALTHY48_BE, bytes(48), b"\xff" * 48)
    blocks = draw(st.lists(st.sampled_from(tails), max_size=3))
    data = image + b"".join(blocks) + draw(st.binary(max_size=20))
    return data, max((legal for legal in MEMORY_SIZES if legal <= len(data)), default=0)


@given(files(), st.lists(loose_layouts(), max_size=4, unique_by=lambda layout: layout.name))
@example((memory(256) + HEALTHY48 + patched(HEALTHY48, 40, "65"), 256), [describe(LOOSE)])
@settings(max_examples=150, deadline=None)
def test_the_default_plan_keeps_what_could_be_memory(
    file: tuple[bytes, int], layouts: list[Layout]
) -> None:
    data, memory_bytes = file
    seen = examine(data, also_layouts=layouts, now=NOW)
    plan = plan_repair(seen, now=NOW)
    with contextlib.suppress(FileFault):
        after = dumps(plan.apply())
        assert after[:memory_bytes] == data[:memory_bytes]
        assert len(after) >= memory_bytes


def test_the_layout_that_once_deleted_memory_no_longer_does() -> None:
    newer = patched(HEALTHY48, 40, "65")
    for number in range(50):
        image = bytes((number * 37 + at * 101) % 256 for at in range(256))
        seen = examine(image + HEALTHY48 + newer, also_layouts=[describe(LOOSE)], now=NOW)
        assert dumps(plan_repair(seen, now=NOW).apply()) in (
            image + newer,
            image + HEALTHY48 + newer,
        )


def test_many_layouts_do_not_make_a_search_of_hours() -> None:
    field = {"offset": 0, "holds": "day_counter"}
    layouts = [describe({"name": f"l{n}", "size": 8 + n, "field": [field]}) for n in range(40)]
    data = memory(256) + HEALTHY48 + HEALTHY44 + b"\x01" * 9
    looked_at: list[int] = []
    with pytest.MonkeyPatch.context() as patch:
        likeliest = duplicates.likeliest
        patch.setattr(
            duplicates, "likeliest", lambda *words: (looked_at.append(1), likeliest(*words))[1]
        )
        examine(data, also_layouts=layouts, now=NOW)
    # each size at most once at each byte: the rows themselves would be millions
    assert 0 < len(looked_at) <= 42 * len(data)


def once_and_twice(data: bytes, **how: Any) -> None:
    """A plan applied to its own result changes nothing more, by the same words."""
    also = how.pop("also", ())
    plan_with = {key: how.pop(key) for key in ("header", "past_range") if key in how}
    try:
        first = plan_repair(examine(data, now=NOW, **how), now=NOW, **plan_with).apply(also=also)
    except FileFault:
        return
    once = dumps(first)
    seen = examine(once, now=NOW, **how)
    steps = plan_repair(seen, now=NOW, **plan_with).chosen(also=also)
    assert steps == (), [step.code for step in steps]


@given(
    files(),
    st.lists(st.sampled_from(CODES), max_size=4),
    st.sampled_from((None, "block48", "block44", "block48-be", "registers10")),
    st.sampled_from(("as-time", "zero")),
    st.lists(loose_layouts(), max_size=2, unique_by=lambda layout: layout.name),
)
@settings(max_examples=200, deadline=None)
def test_twice_is_once(
    file: tuple[bytes, int],
    also: list[str],
    layout: str | None,
    past_range: str,
    layouts: list[Layout],
) -> None:
    once_and_twice(file[0], also=also, layout=layout, past_range=past_range, also_layouts=layouts)


def test_twice_is_once_where_padding_is_nested() -> None:
    inner = (memory(256) + HEALTHY48).ljust(512, b"\0") + HEALTHY48
    once_and_twice(inner.ljust(2_048, b"\xff"), also=["block-inside"])


def test_twice_is_once_for_digits_that_zero_makes_legal() -> None:
    registers = bytes.fromhex(
        "00 0b 00 0c 0f 03 07 0f 03 0f 01 0b 0f 00 00 000000000000 00 00 01 00 00"
    )
    for data in (registers, registers[:4] + bytes([15, 2]) + registers[6:]):
        once_and_twice(data[:26], also=["register-illegal-digit"], past_range="zero")


def test_a_wrong_layout_clears_no_register_unasked() -> None:
    newer = patched(HEALTHY48_BE, 47, "65")
    data = memory() + HEALTHY48_BE + newer
    once_and_twice(data, layout="block48")
    seen = examine(data, layout="block48", now=NOW)
    assert plan_repair(seen, now=NOW).steps == ()
    single = examine(memory() + HEALTHY48_BE, layout="block48", now=NOW)
    assert plan_repair(single, now=NOW).steps == ()
    assert "register-stray-bits" in {step.code for step in plan_repair(single, now=NOW).offered}


def test_named_by_the_caller_a_large_block_is_repaired() -> None:
    layout = describe({**LOOSE, "size": 300, "field": [{"offset": 0, "holds": "seconds"}]})
    data = bytes([61]) + bytes(3) + HEALTHY48[40:44] + bytes(292)
    named = plan_repair(examine(data, layout=layout, now=NOW), now=NOW)
    assert named.steps == ()  # 61 s and no minute to put it into: nothing that is certain
    zeroed = plan_repair(examine(data, layout=layout, now=NOW), now=NOW, past_range="zero")
    assert [step.code for step in zeroed.steps] == ["register-past-range"]
    plan = plan_repair(examine(data, also_layouts=[layout], now=NOW), now=NOW, past_range="zero")
    assert plan.steps == ()  # 256 of these bytes could be memory
    assert dumps(plan.apply(also=["register-past-range"]))[0] == 0


def test_identical_findings_on_many_stacks() -> None:
    """What is found in rows of two to four blocks is what an exhaustive search finds."""
    kinds = (HEALTHY48, HEALTHY44, HEALTHY48_BE, patched(HEALTHY48, 40, "65"))
    for number in range(64):
        row = [kinds[number >> 2 * place & 3] for place in range(3)]
        seen = examine(memory() + b"".join(row), now=NOW)
        (finding,) = (f for f in seen.findings if f.code == "block-doubled")
        assert finding.found.startswith("3 blocks"), row
        assert finding.offset == 2_048 + len(row[0]), row


def test_a_repair_that_would_not_read_back_is_not_offered() -> None:
    """A described layout of 464 bytes once made a file grow at every run."""
    layouts = [
        describe(
            {
                "name": f"l{size}",
                "size": size,
                "field": [{"offset": 0, "holds": "seconds"}],
                "constant": [{"offset": size - 4, "text": "MARK"}],
            }
        )
        for size in (464, 304)
    ]
    data = bytes([30]) + bytes(395)
    once_and_twice(data, also=["block-cut-short", "block-unreadable"], also_layouts=layouts)
    seen = examine(data, also_layouts=layouts, now=NOW)
    assert all(finding.repair != "default" for finding in seen.findings)
