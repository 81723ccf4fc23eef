"""Layouts described in TOML: exactly as good as built in, and refused clearly where they are wrong."""

from __future__ import annotations

import json
import pathlib
import time
import tomllib
from typing import Any

import jsonschema
import known
import pytest
from known import HEALTHY48, NOW, STAMP, memory, patched

import rtcsave
from rtcsave import (
    BadArgument,
    BadDescription,
    CounterClock,
    DoesNotFit,
    Layout,
    check,
    describe,
    dumps,
    elapsed,
    examine,
    forecast,
    loads,
    plan_repair,
    read_layouts,
    verify,
)
from rtcsave.cli.words import save_json
from rtcsave.drift import observe
from rtcsave.layouts import layout_named
from rtcsave.layouts.annotation import annotate
from rtcsave.layouts.codec import codec
from rtcsave.layouts.schema import STARTING_POINT, schema

PACKAGE = pathlib.Path(rtcsave.__file__).parent
SCHEMA = json.loads((PACKAGE / "layouts" / "description.schema.json").read_text(encoding="utf-8"))
WORKSHOP = PACKAGE.parent / "examples" / "saves" / "workshop.toml"


def block48() -> str:
    """The built-in layout of 48 bytes, written out as a user would."""
    lines = [
        'name = "block48"',
        'summary = "ten 32-bit little-endian words, running then latched, and a 64-bit stamp"',
        "size = 48",
    ]
    words = (
        ("seconds", '{ holds = "seconds", width = 6 }'),
        ("minutes", '{ holds = "minutes", width = 6 }'),
        ("hours", '{ holds = "hours", width = 5 }'),
        ("day_low", '{ holds = "day_counter", width = 8 }'),
        (
            "day_high",
            '{ holds = "day_counter", width = 1, onto = 8 }, { holds = "halt", at = 6 }, '
            '{ holds = "carry", at = 7 }',
        ),
    )
    for start, part in ((0, "running"), (20, "latched")):
        for at, (name, bits) in enumerate(words):
            lines += [
                "[[field]]",
                f'name = "{part}_{name}"',
                f'part = "{part}"',
                f"offset = {start + 4 * at}",
                "bytes = 4",
                f"bits = [{bits}]",
            ]
    return "\n".join([*lines, "[stamp]", "offset = 40", "bytes = 8"])


def test_describing_the_built_in_layout_gives_exactly_that() -> None:
    assert describe(block48()) == layout_named("block48")
    assert describe(tomllib.loads(block48())) == layout_named("block48")
    assert codec(describe(block48())).struct_format == codec(layout_named("block48")).struct_format


def test_the_starting_point_is_one() -> None:
    layout = describe(STARTING_POINT)
    assert (layout.name, layout.size) == ("my-block", 56)


@pytest.mark.parametrize("text", [STARTING_POINT, block48(), WORKSHOP.read_text(encoding="utf-8")])
def test_the_schema_takes_what_we_take(text: str) -> None:
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    jsonschema.validate(tomllib.loads(text), SCHEMA)


def test_the_schema_is_the_one_that_the_keys_make() -> None:
    assert schema() == SCHEMA


def workshop(**changes: object) -> dict[str, Any]:
    table = tomllib.loads(WORKSHOP.read_text(encoding="utf-8"))
    for way, value in changes.items():
        target: Any = table
        *path, last = way.split("__")
        for key in path:
            target = target[int(key) if key.isdigit() else key]
        key_: Any = int(last) if last.isdigit() else last
        if value is None:
            del target[key_]
        else:
            target[key_] = value
    return table


@pytest.mark.parametrize(
    ("changes", "where", "hint"),
    [
        ({"name": None}, "key name", "missing"),
        ({"name": "a b"}, "key name", "no name"),
        ({"name": 5}, "key name", "wrong type"),
        ({"size": 0}, "key size", "1 to 1024"),
        ({"size": 10**9}, "key size", "1 to 1024"),
        ({"size": True}, "key size", "wrong type"),
        ({"clock": "sundial"}, "key clock", "counter, minutes, calendar"),
        ({"order": "middle"}, "key order", "little, big"),
        ({"colour": "red"}, "key colour", "unknown key"),
        ({"sise": 20}, "key sise", "did you mean size"),
        ({"field": []}, "key ", "no running registers"),
        ({"field": "x"}, "key field", "wrong type"),
        ({"field__0": 5}, "key field[0]", "no table"),
        ({"field__0__offset": 1_000}, "key ", "outside the block"),
        ({"field__0__offset": -1}, "key field[0].offset", "0 to 1023"),
        ({"field__0__offset": 5}, "key ", "overlap"),
        ({"field__0__bytes": 9}, "key field[0].bytes", "1 to 8"),
        ({"field__0__holds": "secnds"}, "key field[0].holds", "did you mean seconds"),
        ({"field__0__coding": "gray"}, "key field[0].coding", "binary, bcd"),
        ({"field__4__bits__0__width": 65}, "key field[4].bits[0].width", "1 to 64"),
        ({"field__4__bits__0__at": 8}, "key ", "outside its 8 bits"),
        ({"field__4__bits__0__onto": 9}, "key ", "more bits than it has"),
        ({"field__4__bits__0__onto": 7}, "key ", "both hold the same part"),
        ({"field__4__bits__1__at": 7}, "key ", "named twice"),
        ({"constant__0__text": "grün"}, "key constant[0].text", "ASCII"),
        ({"constant__0__text": ""}, "key constant[0].hex", "no bytes"),
        ({"stamp__unit": "fortnights"}, "key stamp.unit", "100ns"),
        ({"stamp__zone": "Mars/Olympus"}, "key stamp.zone", "no zone"),
        ({"stamp__epoch": "long ago"}, "key stamp.epoch", "1904-01-01"),
        ({"stamp__epoch": 5}, "key stamp.epoch", "no epoch"),
        ({"checksum__kind": "md5"}, "key checksum.kind", "crc-32"),
        ({"checksum__to": 21}, "key ", "outside the block"),
        ({"checksum__to": 18}, "key ", "covers itself"),
        ({"checksum__bytes": 2}, "key ", "does not fit its field"),
    ],
)
def test_an_error_names_file_key_found_and_expected(
    changes: dict[str, object], where: str, hint: str
) -> None:
    with pytest.raises(BadDescription) as caught:
        describe(workshop(**changes), source="mine.toml")
    assert "mine.toml" in str(caught.value)
    assert where in str(caught.value)
    assert hint in str(caught.value)
    assert isinstance(caught.value, ValueError)


@pytest.mark.parametrize(
    "text",
    [
        "size = ", "= 5", "a" * 70_000, "[" * 20_000, "x = " + "[" * 20_000 + "]" * 20_000,
        'name = "x"\nname = "y"', "\0", "x = 1e999", "size = " + "9" * 5_000,
    ],
)  # fmt: skip
def test_hostile_text_is_refused_in_bounded_time(text: str) -> None:
    start = time.perf_counter()
    with pytest.raises(BadDescription):
        describe(text)
    assert time.perf_counter() - start < 5  # seconds, where it takes a thousandth of that


def test_hostile_tables() -> None:
    many = [{"offset": n, "holds": "seconds", "name": f"f{n}"} for n in range(1_024)]
    with pytest.raises(BadDescription, match="both hold the same part"):
        describe({"name": "x", "size": 1_024, "field": many})
    for wrong in (5, None, [1], b"x"):
        with pytest.raises(BadArgument):
            describe(wrong)  # type: ignore[arg-type]


def test_a_text_with_a_byte_order_mark() -> None:
    assert describe("\ufeff" + block48()) == layout_named("block48")


class TestWorkshop:
    """What a described layout does: all that a built-in one does."""

    layout: Layout = describe(WORKSHOP.read_text(encoding="utf-8"))
    # 13:40:07 of day 212 (D4h), stamped 2026-03-10T14:15:00Z; CRC-32 over the first 16 bytes
    raw = bytes.fromhex("48513236 07 40 13 d4 00 000000 69b02764")
    crc = bytes.fromhex("d224585f")

    def test_it_is_found_read_and_written_back(self) -> None:
        data = memory() + self.raw + self.crc
        save = loads(data, also_layouts=[self.layout], now=NOW)
        assert save.block is not None
        assert save.block.layout is self.layout
        assert save.block.running == CounterClock(seconds=7, minutes=40, hours=13, day_counter=212)
        assert save.block.latched is None
        assert save.block.saved_unix_s == STAMP
        assert dumps(save) == data
        assert check(save, now=NOW) == ()
        with pytest.raises(rtcsave.UnknownLength):
            loads(data)

    def test_the_checksum_is_made_again_when_a_byte_it_covers_changes(self) -> None:
        import zlib

        save = loads(self.raw + self.crc, self.layout)
        after = dumps(save.advance_by(53))
        assert after[:16] == bytes.fromhex("48513236 00 41 13 d4 00 000000 69b02799")
        assert after[16:] == zlib.crc32(after[:16]).to_bytes(4, "little")

    def test_a_checksum_that_was_wrong_stays_wrong_until_something_changes(self) -> None:
        data = self.raw + b"\1\2\3\4"
        save = loads(data, self.layout)
        assert dumps(save) == data
        assert dumps(save.advance_by(0)) == data
        (finding,) = check(save, now=NOW)
        assert (finding.code, finding.offset, finding.found, finding.expected) == (
            "block-checksum", 16, "01 02 03 04", "d2 24 58 5f",
        )  # fmt: skip
        plan = plan_repair(save, now=NOW)
        assert plan.steps == ()
        assert dumps(plan.apply(also=["block-checksum"])) == self.raw + self.crc

    def test_a_constant_that_is_another_is_a_finding(self) -> None:
        data = patched(self.raw + self.crc, 3, "37")
        assert [finding.code for finding in check(loads(data, self.layout), now=NOW)] == [
            "block-constant",
            "block-checksum",
        ]
        repaired = plan_repair(loads(data, self.layout), now=NOW).apply(also=["block-constant"])
        assert dumps(repaired) == self.raw + self.crc

    def test_invalid_decimal_digits_are_a_finding_and_survive(self) -> None:
        data = patched(self.raw, 4, "7f") + self.crc
        save = loads(data, self.layout)
        assert dumps(save) == data
        assert save.clock_block.running.reading().startswith("212d13:40:6")
        codes = [finding.code for finding in check(save, now=NOW)]
        assert codes == ["block-checksum", "register-illegal-digit"]
        for call in (
            lambda: save.advance_by(1),
            lambda: save.with_layout("block48", drop_unknown=True),
            lambda: forecast(save, now=NOW),
            lambda: elapsed(save, save),
            lambda: observe(save),
        ):
            with pytest.raises(DoesNotFit, match="cannot hold, so nobody knows its time"):
                call()
        assert verify(save, save).problems == (
            "the clock of the save from before holds a word that no clock can hold",
        )
        answers = save_json("x.sav", save, NOW, ())
        assert answers["clock_now"] is None
        assert answers["overflow_at"] is None
        assert answers["clock"]["in_range"] is False
        plan = plan_repair(save, now=NOW)
        assert [step.code for step in (*plan.steps, *plan.offered)] == ["block-checksum"]

    def test_a_clock_that_it_cannot_hold_is_refused(self) -> None:
        table = workshop(checksum=None, field__4=None)
        small = describe({**table, "size": 16})
        save = loads(bytes.fromhex("48513236 07 40 13 d4 00000000 69b02764"), small)
        with pytest.raises(DoesNotFit, match="day_counter 256"):
            save.advance_by(44 * 86_400)
        assert dumps(save.advance_by(43 * 86_400))[7] == 255

    def test_conversion_both_ways(self) -> None:
        save = loads(self.raw + self.crc, self.layout)
        there = save.with_layout("block48")
        assert there.clock_block.latched == there.clock_block.running
        assert there.clock_block.saved_unix_s == STAMP
        back = there.with_layout(self.layout)
        assert dumps(back) == self.raw + self.crc

    def test_a_magic_that_is_there_decides(self) -> None:
        plain = describe(
            {
                "name": "plain", "size": 20,
                "field": [{"offset": n, "bytes": 1, "holds": name, "coding": "bcd"}
                          for n, name in ((4, "seconds"), (5, "minutes"), (6, "hours"))],
            }
        )  # fmt: skip
        data = memory() + self.raw + self.crc
        save = loads(data, also_layouts=[plain, self.layout], now=NOW)
        assert save.clock_block.layout is self.layout


@pytest.mark.parametrize(
    ("stamp", "raw", "unix_s"),
    [
        ({"bytes": 8, "unit": "ms"}, STAMP * 1_000 + 999, STAMP),
        ({"bytes": 8, "unit": "us"}, STAMP * 1_000_000, STAMP),
        # 100 ns units since 1601: 11,644,473,600 s before 1970
        (
            {"bytes": 8, "unit": "100ns", "epoch": "1601-01-01"},
            (STAMP + 11_644_473_600) * 10_000_000,
            STAMP,
        ),
        ({"bytes": 4, "epoch": "1904-01-01T00:00:00Z"}, STAMP + 2_082_844_800, STAMP),
        ({"bytes": 4, "epoch": "unix"}, STAMP, STAMP),
        # a wall clock in London: an hour ahead from 2024-03-31T01:00Z (IANA tz 2025b)
        ({"bytes": 4, "zone": "Europe/London"}, 1_711_846_800 + 3_600, 1_711_846_800),
        ({"bytes": 4, "zone": "Europe/London"}, 1_711_846_799, 1_711_846_799),
    ],
)
def test_stamps_of_any_unit_epoch_and_zone(stamp: dict[str, object], raw: int, unix_s: int) -> None:
    size = stamp["bytes"]
    assert isinstance(size, int)
    layout = describe(
        {
            "name": "x",
            "size": 4 + size,
            "field": [{"offset": 0, "holds": "seconds"}],
            "stamp": {"offset": 4, **stamp},
        }
    )
    save = loads(bytes(4) + raw.to_bytes(size, "little"), layout)
    assert save.clock_block.saved_unix_s == unix_s
    again = save.with_stamp(unix_s).clock_block
    assert again.saved_unix_s == unix_s


def test_an_hour_that_a_zone_goes_through_twice_is_refused_rather_than_guessed() -> None:
    layout = describe(
        {
            "name": "x", "size": 8, "field": [{"offset": 0, "holds": "seconds"}],
            "stamp": {"offset": 4, "bytes": 4, "zone": "Europe/London"},
        }
    )  # fmt: skip
    save = loads(bytes(8), layout)
    # London 2024-10-27T01:00Z (IANA tz 2025b): 01:30 local is 00:30Z first, then 01:30Z
    assert save.with_stamp(1_729_989_000).clock_block.saved_unix_s == 1_729_989_000
    with pytest.raises(DoesNotFit, match="goes through this hour twice"):
        save.with_stamp(1_729_992_600)


def test_a_description_that_costs_time_is_refused_at_once() -> None:
    start = time.perf_counter()
    with pytest.raises(BadDescription, match="more dots"):
        describe(".".join(["a"] * 32_000) + "=1")
    assert time.perf_counter() - start < 2  # seconds, where parsing it took twenty


def test_what_a_layout_has_no_room_for_is_refused() -> None:
    table = tomllib.loads(block48())
    for field in table["field"]:
        if field["part"] == "latched" and "seconds" not in field["name"]:
            field["part"] = "gone"
    table["field"] = [field for field in table["field"] if field["part"] != "gone"]
    small = describe({**table, "name": "small"})
    with pytest.raises(DoesNotFit, match="latched"):
        loads(HEALTHY48).with_layout(small)
    assert loads(HEALTHY48).with_layout(small, drop_latched=True).clock_block.layout is small
    decimal = describe(STARTING_POINT)
    with pytest.raises(DoesNotFit, match="stray bits"):
        loads(patched(HEALTHY48, 0, "47")).with_layout(decimal, drop_latched=True)


@pytest.mark.parametrize(
    ("change", "text"),
    [
        ({"field": [{"offset": 0, "holds": "seconds"}, {"offset": 0, "holds": "minutes"}]},
         "overlap, c.toml, key field[1], found byte 0 in both, expected each byte in one field"),
        ({"field": [{"offset": 9, "holds": "seconds"}]},
         "lies outside the block, c.toml, key field[0], found bytes 9 to 9, expected bytes 0 to 7"),
        ({"checksum": {"kind": "crc-32", "offset": 4, "to": 8}},
         "covers itself, c.toml, key checksum, found bytes 0 to 7, itself at 4 to 7, expected bytes"),
        ({"field": []}, "there are no fields, c.toml, key field"),
    ],
)  # fmt: skip
def test_what_does_not_hold_together_is_said_by_its_key(change: dict[str, Any], text: str) -> None:
    table = {"name": "a", "size": 8, "field": [{"offset": 0, "holds": "seconds"}], **change}
    with pytest.raises(BadDescription) as error:
        describe(table, source="c.toml")
    assert text in str(error.value)


def test_what_has_no_name_gets_one_of_its_own() -> None:
    layout = describe(
        {
            "name": "nameless",
            "size": 8,
            "field": [
                {"offset": 0, "bits": [{"holds": "seconds"}]},
                {"offset": 1, "bits": [{"holds": "minutes"}]},
            ],
            "constant": [{"offset": 2, "hex": "01"}, {"offset": 3, "hex": "02"}],
        }
    )
    assert [field.name for field in layout.fields] == [
        "running_field", "running_field_2", "constant", "constant_2",
    ]  # fmt: skip


def test_a_block_that_may_be_another_is_not_converted_unasked() -> None:
    workshop_layout = describe(WORKSHOP.read_text(encoding="utf-8"))
    whole = (WORKSHOP.parent / "workshop.sav").read_bytes()
    for at in (len(whole) - 20, len(whole) - 1):  # its mark, its checksum
        save = loads(patched(whole, at, f"{whole[at] ^ 1:02x}"), workshop_layout)
        with pytest.raises(DoesNotFit, match="is always there"):
            save.with_layout("block48")
        assert save.with_layout("block48", drop_unknown=True).clock_block.running == (
            save.clock_block.running
        )


def test_bytes_that_no_field_describes_are_not_lost_unasked() -> None:
    fields: list[dict[str, Any]] = [
        {"offset": 2, "holds": "seconds"},
        {"offset": 3, "holds": "minutes"},
        {"offset": 4, "holds": "hours"},
        {"offset": 5, "name": "day_low",
         "bits": [{"holds": "day_counter", "width": 8}]},
        {"offset": 6, "name": "day_high",
         "bits": [{"holds": "day_counter", "width": 1, "onto": 8},
                  {"holds": "halt", "at": 6}, {"holds": "carry", "at": 7}]},
    ]  # fmt: skip
    wide = describe({"name": "wide", "size": 8, "field": fields})
    data = bytes.fromhex("a700 1e 0f 0d d4 00 2e")
    save = loads(data, wide)
    assert dumps(save.with_layout(wide)) == data
    with pytest.raises(DoesNotFit, match="what some bytes mean") as error:
        save.with_layout("registers5")
    assert error.value.found == "bytes 0, 7"
    assert dumps(save.with_layout("registers5", drop_unknown=True)) == bytes.fromhex("1e0f0dd400")


def test_a_stamp_in_milliseconds_keeps_its_fraction_when_advanced() -> None:
    table = tomllib.loads(block48())
    table["stamp"]["unit"] = "ms"
    layout = describe({**table, "name": "ms48"})
    # 1773152100250 ms is 250 ms past the healthy stamp; 90 s on it is 1773152190250
    save = loads(HEALTHY48[:40] + bytes.fromhex("9adf19d89c010000"), layout)
    assert save.clock_block.stamp == 1_773_152_100_250
    assert save.advance_by(90).clock_block.stamp == 1_773_152_190_250


@pytest.mark.parametrize("epoch", [5, 1.5, True, [1]])
def test_the_schema_refuses_an_epoch_that_is_none_too(epoch: object) -> None:
    table = tomllib.loads(block48())
    table["stamp"]["epoch"] = epoch
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(table, SCHEMA)
    with pytest.raises(BadDescription):
        describe(table)


def test_an_image_is_not_taken_for_a_block_of_its_size() -> None:
    big = describe(
        {
            "name": "big", "size": 256,
            "field": [{"offset": n, "holds": name, "coding": "bcd"}
                      for n, name in enumerate(("seconds", "minutes", "hours"))],
            "stamp": {"offset": 8, "bytes": 8},
        }
    )  # fmt: skip
    for image in (b"text".ljust(256, b".") + bytes(256), bytes(64) + b"text" * 48):
        assert loads(image, also_layouts=[big], now=NOW).block is None
    block = bytes.fromhex("07 40 13 00 00000000 6427b06900000000").ljust(256, b"\0")
    assert loads(block, also_layouts=[big], now=NOW).block is not None


def test_two_meanings_of_one_stamp_are_not_chosen_between_in_silence() -> None:
    table = tomllib.loads(block48())
    table |= {"name": "tokyo", "stamp": {**table["stamp"], "zone": "Asia/Tokyo"}}
    with pytest.raises(rtcsave.AmbiguousLayout) as caught:
        loads(HEALTHY48, also_layouts=[describe(table)], now=NOW)
    assert caught.value.candidates == ("block48", "tokyo")


@pytest.mark.parametrize(
    ("kind", "size", "value"),
    [
        # worked by hand over 01 02 FF: sums 102h, xor FCh
        ("sum-8", 1, "02"),
        ("sum-16", 2, "0201"),
        ("xor", 1, "fc"),
    ],
)
def test_sums(kind: str, size: int, value: str) -> None:
    layout = describe(
        {
            "name": "x", "size": 3 + size, "field": [{"offset": 0, "holds": "seconds"}],
            "checksum": {"kind": kind, "offset": 3, "to": 3},
        }
    )  # fmt: skip
    assert codec(layout).checksum_of(bytes([1, 2, 0xFF]) + bytes(size)) == bytes.fromhex(value)


@pytest.mark.parametrize(
    ("kind", "size", "value"), [("crc-16", 2, "31c3"), ("crc-32", 4, "cbf43926")]
)
def test_crcs_of_the_usual_check_string(kind: str, size: int, value: str) -> None:
    # "123456789": CRC-16 with 1021h from 0 is 31C3h, CRC-32 is CBF43926h (common practice: the
    # check values by which such polynomials are told apart)
    layout = describe(
        {
            "name": "x", "size": 9 + size, "order": "big",
            "field": [{"offset": 0, "holds": "seconds"}],
            "checksum": {"kind": kind, "offset": 9, "to": 9},
        }
    )  # fmt: skip
    assert codec(layout).checksum_of(b"123456789" + bytes(size)) == bytes.fromhex(value)


class TestFolder:
    def test_files_are_known_by_the_names_they_give(
        self, tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        (tmp_path / "w.toml").write_bytes(WORKSHOP.read_bytes())
        (tmp_path / "notes.txt").write_text("not a layout", encoding="utf-8")
        assert [layout.name for layout in read_layouts(tmp_path)] == ["workshop"]
        monkeypatch.setenv("RTCSAVE_LAYOUTS", str(tmp_path))
        assert [layout.name for layout in read_layouts()] == ["workshop"]

    def test_consoles_write_utf_16(self, tmp_path: pathlib.Path) -> None:
        text = WORKSHOP.read_text(encoding="utf-8")
        (tmp_path / "w.toml").write_bytes(text.encode("utf-16"))
        assert [layout.name for layout in read_layouts(tmp_path)] == ["workshop"]

    def test_a_wrong_one_and_a_name_that_is_taken(self, tmp_path: pathlib.Path) -> None:
        (tmp_path / "a.toml").write_text("size = 5", encoding="utf-8")
        with pytest.raises(BadDescription, match=r"a\.toml"):
            read_layouts(tmp_path)
        (tmp_path / "a.toml").write_text(block48(), encoding="utf-8")
        with pytest.raises(BadDescription, match="the name is taken"):
            read_layouts(tmp_path)

    def test_a_folder_that_is_not_there(
        self, tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        with pytest.raises(rtcsave.SystemFailed):
            read_layouts(tmp_path / "none")
        monkeypatch.setenv("RTCSAVE_LAYOUTS", str(tmp_path / "none"))
        assert read_layouts() == ()

    @pytest.mark.parametrize(
        ("platform", "variable", "tail"),
        [
            ("win32", "APPDATA", "here"),
            ("linux", "XDG_CONFIG_HOME", "here"),
            ("darwin", "", "Library/Application Support"),
        ],
    )
    def test_each_platform_has_its_place(
        self, monkeypatch: pytest.MonkeyPatch, platform: str, variable: str, tail: str
    ) -> None:
        from rtcsave.storage import system
        from rtcsave.storage.described import layouts_folder

        monkeypatch.delenv("RTCSAVE_LAYOUTS", raising=False)
        monkeypatch.setattr(system.sys, "platform", platform)
        if variable:
            monkeypatch.setenv(variable, "here")
        folder = layouts_folder().replace("\\", "/")
        assert folder.endswith(f"{tail}/rtcsave/layouts")


def test_examine_looks_for_the_layout_that_was_named() -> None:
    layout = TestWorkshop.layout
    whole = TestWorkshop.raw + TestWorkshop.crc
    younger = dumps(loads(whole, layout).advance_by(60))
    seen = examine(memory() + whole + younger, layout, now=NOW)
    assert [finding.code for finding in seen.findings] == ["block-doubled"]
    assert dumps(plan_repair(seen, now=NOW).apply()) == memory() + younger


def test_examine_uses_what_it_is_given() -> None:
    layout = describe(WORKSHOP.read_text(encoding="utf-8"))
    cut = memory() + TestWorkshop.raw[:14]
    seen = examine(cut, also_layouts=[layout], now=NOW)
    assert [finding.code for finding in seen.findings] == ["block-cut-short"]


def meanings(block: rtcsave.ClockBlock) -> dict[str | int, str]:
    """What is said of each word of a block, by its name, else by its offset."""
    return {word.name or word.offset: word.meaning for word in annotate(block)}


def test_what_is_said_of_a_described_blocks_bytes() -> None:
    layout = describe(known.WORKSHOP)
    clock = rtcsave.CounterClock(seconds=7, minutes=40, hours=13, day_counter=300)
    raw = rtcsave.ClockBlock.new(clock, layout=layout).raw
    said = meanings(rtcsave.ClockBlock(layout=layout, raw=raw))
    assert said["constant"] == "always the same"
    assert said[9] == "not described; kept as it is"
    assert said["checksum"].endswith(": right")
    assert said["stamp"].startswith("absent")
    changed = rtcsave.ClockBlock(layout=layout, raw=b"X" + raw[1:])
    said = meanings(changed)
    assert said["constant"] == "should be 43 4c 4b 31"
    assert said["checksum"].endswith(": wrong")
