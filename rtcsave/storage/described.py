"""The user's own layouts: a folder of descriptions."""

from __future__ import annotations

import os
from typing import Final

from rtcsave.errors import BadDescription, RtcSaveError, SystemFailed
from rtcsave.layouts import BUILT_IN, Layout
from rtcsave.storage.reading import path_text, read_text
from rtcsave.storage.system import config_folder, system_failed

VARIABLE: Final = "RTCSAVE_LAYOUTS"


def layouts_folder() -> str:
    """The folder of the user's layouts: what RTCSAVE_LAYOUTS names, else `layouts` in the
    application's config folder, where the platform keeps such."""
    named = os.environ.get(VARIABLE)
    if named:
        return named
    return os.path.join(config_folder(), "rtcsave", "layouts")


def read_layout(path: str | os.PathLike[str]) -> Layout:
    """The layout that a file describes; `BadDescription` names the file and what is wrong."""
    from rtcsave.layouts.description import describe  # not loaded where nothing is described
    from rtcsave.layouts.text import LARGEST_TEXT

    text = path_text(path)
    return describe(read_text(text, LARGEST_TEXT), source=text)


def read_layouts(folder: str | os.PathLike[str] | None = None) -> tuple[Layout, ...]:
    """The layouts described by the `.toml` files of a folder, by file name.

    `folder` None is the user's own (`RTCSAVE_LAYOUTS`, or the platform's config folder), where a
    folder that is not there means none. `BadDescription` for a file that is wrong, or a name that a
    built-in layout or another file has.
    """
    layouts, problems = gather_layouts(folder)
    if problems:
        raise problems[0]
    return layouts


def gather_layouts(
    folder: str | os.PathLike[str] | None = None,
) -> tuple[tuple[Layout, ...], tuple[RtcSaveError, ...]]:
    """The layouts of a folder that can be read, and the errors of those that cannot."""
    text = layouts_folder() if folder is None else path_text(folder)
    try:
        names = sorted(entry for entry in os.listdir(text) if entry.lower().endswith(".toml"))
    except FileNotFoundError:
        if folder is None:
            return (), ()
        raise SystemFailed("there is no such folder", where=text) from None
    except OSError as error:
        raise system_failed(error, "the folder of layouts cannot be read", text) from error
    taken = {layout.name: "a built-in layout" for layout in BUILT_IN}
    layouts: list[Layout] = []
    problems: list[RtcSaveError] = []
    for name in names:
        path = os.path.join(text, name)
        try:
            layout = read_layout(path)
        except RtcSaveError as error:
            problems.append(error)
            continue
        if layout.name in taken:
            problems.append(
                BadDescription(
                    "the name is taken",
                    where=f"{path}, key name",
                    found=layout.name,
                    expected=f"another name than that of {taken[layout.name]}",
                )
            )
            continue
        taken[layout.name] = path
        layouts.append(layout)
    return tuple(layouts), tuple(problems)
