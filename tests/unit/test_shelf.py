"""A collector's register: what it says of each save, and that nothing a person wrote is changed."""

from __future__ import annotations

import pathlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rtcsave import BadDescription, Cell
from rtcsave.collection.shelf import parse_shelf, read_shelf, with_saves

HEAD = "file,title,cell,fitted,current_ua,rate_ppm\n"


def entry(text: str) -> object:
    (only,) = parse_shelf(text, "/shelf/register.csv").entries.values()
    return only


def test_a_row_is_a_cartridge() -> None:
    cartridge = entry(HEAD + "lent/tide.sav,Tide Clerk,CR2025,2024-05-01,1.1,18.2\n")
    assert cartridge.path == str(pathlib.Path("/shelf/lent/tide.sav"))  # type: ignore[attr-defined]
    assert cartridge.title == "Tide Clerk"  # type: ignore[attr-defined]
    assert cartridge.cell == Cell(designation="CR2025", current_ua=1.1, fitted_at=1_714_521_600)  # type: ignore[attr-defined]
    assert cartridge.rate_ppm == 18.2  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    "text",
    [
        "file,title\ntide.sav,Tide Clerk\n",
        "\ufefftitle;note;FILE\r\nTide Clerk;lent out;tide.sav\r\n\r\n".removeprefix("\ufeff"),
        'file,title\n"tide.sav","Tide Clerk"',
    ],
)
def test_as_tables_are_written(text: str) -> None:
    cartridge = entry(text)
    assert cartridge.title == "Tide Clerk"  # type: ignore[attr-defined]
    assert cartridge.path.endswith("tide.sav")  # type: ignore[attr-defined]
    assert (cartridge.cell, cartridge.rate_ppm) == (None, None)  # type: ignore[attr-defined]


def test_decimal_commas_in_a_table_of_semicolons() -> None:
    cartridge = entry("file;cell;current_ua;rate_ppm\ntide.sav;230mAh;1,1;-18,2\n")
    assert cartridge.cell == Cell(capacity_mah=230.0, current_ua=1.1)  # type: ignore[attr-defined]
    assert cartridge.rate_ppm == -18.2  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("name,title\na,b\n", "no column of files"),
        ("", "no column of files"),
        (HEAD + ",Tide Clerk,,,,\n", "a row names no file, r.csv, line 2"),
        (
            HEAD + "a.sav,,CR9999,,,\n",
            "the rated capacity of this cell is not known here, r.csv, line 2",
        ),
        (HEAD + "a.sav,,CR2025,,much,\n", "current_ua is a number, r.csv, line 2, found 'much'"),
        (HEAD + "a.sav,,CR2025,1.5.24,,\n", "r.csv, line 2"),
        (HEAD + "a.sav,,,2024-05-01,,\n", "fitted and current_ua go with a cell"),
        (HEAD + "a.sav,,,,,1e9\n", "this is no rate of a clock"),
        (
            HEAD + "a.sav,,,,,\nb.sav,,,,,\n./a.sav,,,,,\n",
            "a save stands in two rows, r.csv, line 4",
        ),
    ],
)
def test_what_cannot_be_understood_is_named_with_its_line(text: str, said: str) -> None:
    with pytest.raises(BadDescription) as caught:
        parse_shelf(text, "r.csv")
    assert said in str(caught.value)


def test_rows_are_added_and_all_else_stays(tmp_path: pathlib.Path) -> None:
    old = b"file;title;note\r\na.sav;Tide Clerk;=1+1\r\n; ;\r\n"
    path = str(tmp_path / "register.csv")
    saves = [str(tmp_path / "a.sav"), str(tmp_path / "deep" / "b.sav")]
    new = with_saves(old, path, saves)
    assert new == old + b"deep/b.sav;;\r\n"
    assert with_saves(new, path, saves) == new
    assert with_saves(b"", path, saves[1:]) == HEAD.encode() + b"deep/b.sav,,,,,\n"
    assert with_saves(old[:-2], path, saves) == old + b"deep/b.sav;;\r\n"
    marked = b"\xef\xbb\xbf" + old
    assert with_saves(marked, path, saves) == marked + b"deep/b.sav;;\r\n"
    with pytest.raises(BadDescription, match="UTF-8 only"):
        with_saves(old.decode().encode("utf-16"), path, saves)


names = st.text(
    st.characters(exclude_characters="\0/\\\r\n", exclude_categories=["Cs"]),
    min_size=1,
    max_size=12,
).filter(lambda name: name.strip() == name and name not in (".", ".."))


@given(files=st.lists(names, max_size=5, unique_by=str.casefold), more=st.lists(names, max_size=3))
def test_whatever_the_names(files: list[str], more: list[str]) -> None:
    path = "/shelf/register.csv"
    old = with_saves(b"", path, [f"/shelf/{name}" for name in files])
    new = with_saves(old, path, [f"/shelf/{name}" for name in (*files, *dict.fromkeys(more))])
    assert new.startswith(old)
    known = (
        {entry.path for entry in parse_shelf(new.decode(), path).entries.values()} if new else set()
    )
    assert known == {str(pathlib.Path(f"/shelf/{name}")) for name in (*files, *more)}


def test_read_from_a_file_with_a_mark(tmp_path: pathlib.Path) -> None:
    path = tmp_path / "register.csv"
    path.write_bytes(b"\xef\xbb\xbf" + HEAD.encode() + b"a.sav,Tide Clerk,,,,\n")
    shelf = read_shelf(str(path))
    cartridge = shelf.of(str(tmp_path / "a.sav"))
    assert cartridge is not None
    assert cartridge.title == "Tide Clerk"
    assert shelf.of(str(tmp_path / "b.sav")) is None
    assert repr(shelf) == f"<Shelf {path}: 1 saves>"
