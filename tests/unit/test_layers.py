"""The layers: imports go to a lower layer only, and the package is light to import."""

from __future__ import annotations

import ast
import pathlib
import subprocess
import sys

import pytest

import rtcsave

PACKAGE = pathlib.Path(rtcsave.__file__).parent

LAYERS = {
    "errors": 0.0,
    "units": 0.0,
    "buffers": 0.5,  # on the layer of the errors, which it raises
    "regress": 0.5,
    "when": 0.5,
    "stamps": 1,
    "cells": 1,
    "clocks": 1,
    "layouts": 2,
    "header": 2,
    "savefile": 3,
    "chips": 3,
    "differences": 4,
    "storage": 4,
    "findings": 5,
    "elapsed_time": 5,
    "two_saves": 5.5,
    "repair": 6,
    "corrections": 6,
    "drift": 6,
    "comparison": 6,
    "forecasts": 7,
    "conformance": 7,
    "strategies": 7,
    "collection": 8,
    "report": 9,
    "cli": 10,
}
ABOVE_ALL = {"__init__", "__main__"}


def modules() -> dict[str, pathlib.Path]:
    return {
        ".".join(path.relative_to(PACKAGE).with_suffix("").parts): path
        for path in sorted(PACKAGE.rglob("*.py"))
    }


def imports_of(path: pathlib.Path) -> set[str]:
    """The modules of the package that a file imports, wherever in it, by their short names."""
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            names.add(node.module or "")
            names |= {f"{node.module}.{alias.name}" for alias in node.names}
    return {name.removeprefix("rtcsave.") for name in names if name.startswith("rtcsave.")} | {
        "" for name in names if name == "rtcsave"
    }


def module_of(module: str) -> str:
    return module.partition(".")[0]


@pytest.mark.parametrize("module", [m for m in modules() if m not in ABOVE_ALL])
def test_imports_go_down(module: str) -> None:
    here = module_of(module)
    assert here in LAYERS, f"{here} has no layer: say where it belongs"
    for imported in imports_of(modules()[module]):
        assert imported, f"{module} imports from rtcsave itself"
        there = module_of(imported)
        if there != here:
            assert LAYERS[there] < LAYERS[here], (
                f"{module} (layer {LAYERS[here]}) imports {imported}"
            )


def test_no_cycles_inside_a_module() -> None:
    known = modules()
    edges = {
        name: {
            target
            for imported in imports_of(path)
            for target in [
                imported if imported in known else f"{imported.rpartition('.')[0]}.__init__"
            ]
            if target in known and module_of(target) == module_of(name) and target != name
        }
        for name, path in known.items()
    }
    done: set[str] = set()

    def visit(name: str, trail: tuple[str, ...]) -> None:
        assert name not in trail, f"a cycle: {' -> '.join((*trail, name))}"
        if name not in done:
            for target in edges[name]:
                visit(target, (*trail, name))
            done.add(name)

    for name in edges:
        visit(name, ())


def imports_outside(module: str) -> set[str]:
    tree = ast.parse(modules()[module].read_text(encoding="utf-8"))
    names: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            names |= {alias.name.partition(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            names.add((node.module or "").partition(".")[0])
    return names


@pytest.mark.parametrize(
    ("library", "homes"),
    [
        ("construct", {"layouts._engine"}),
        ("pendulum", {"when.zones"}),
        ("rich", {"cli.console", "cli.progress"}),
        (
            "hypothesis",
            {
                "strategies.values",
                "strategies.damaged",
                "strategies.cartridges",
                "strategies.bus",
            },
        ),
        ("icalendar", {"report.calendar_file"}),
        ("jinja2", {"report.shelf_page"}),
        ("shtab", {"cli.completions"}),
        ("matplotlib", {"report.drift_plot"}),
    ],
)
def test_each_library_has_one_importer(library: str, homes: set[str]) -> None:
    assert {m for m in modules() if library in imports_outside(m)} == homes


def test_only_the_command_prints() -> None:
    for module, path in modules().items():
        if module_of(module) != "cli":
            calls = [
                node
                for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
                if isinstance(node, ast.Call)
                and isinstance(node.func, ast.Name)
                and node.func.id == "print"
            ]
            assert not calls, f"{module} prints"


def test_no_module_bears_the_name_of_a_public_function() -> None:
    tops = {path.stem for path in PACKAGE.glob("*.py")} | {
        path.name for path in PACKAGE.iterdir() if (path / "__init__.py").exists()
    }
    assert not tops & set(rtcsave.__all__)


def test_every_public_name_is_there_and_said_to_type_checkers() -> None:
    for name in rtcsave.__all__:
        assert getattr(rtcsave, name) is not None
    assert {*rtcsave._MODULE_OF, "__version__"} == set(rtcsave.__all__)
    assert dir(rtcsave) == sorted(rtcsave.__all__)
    tree = ast.parse((PACKAGE / "__init__.py").read_text(encoding="utf-8"))
    block = next(node for node in tree.body if isinstance(node, ast.If))
    typed = {
        alias.asname or alias.name
        for node in block.body
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
    }
    assert typed == set(rtcsave.__all__)
    with pytest.raises(AttributeError, match="has no attribute 'nothing'"):
        _ = rtcsave.nothing  # type: ignore[attr-defined]


def fresh(code: str) -> set[str]:
    """The modules loaded after some code ran in a process of its own."""
    done = subprocess.run(
        [sys.executable, "-c", f"{code}\nimport sys; print(*sys.modules)"],
        capture_output=True,
        text=True,
        check=True,
        cwd=PACKAGE.parent,
    )
    return set(done.stdout.split())


def test_importing_the_package_loads_no_library() -> None:
    assert not {"construct", "pendulum", "rich"} & fresh("import rtcsave")


def test_reading_and_advancing_a_built_in_layout_loads_no_library() -> None:
    code = (
        "import rtcsave; s = rtcsave.loads(bytes(range(1, 49)), layout='block48');"
        "s.block.running, s.block.saved_at, s.advance_by(5), rtcsave.check(s)"
    )
    loaded = fresh(code)
    assert "rtcsave.findings" in loaded
    assert not {"construct", "pendulum", "rich"} & loaded


def test_showing_as_json_loads_no_library() -> None:
    save = PACKAGE.parent / "examples" / "saves" / "healthy.sav"
    code = f"from rtcsave.cli.main import main; assert main(['show', {str(save)!r}, '--json']) == 0"
    assert not {"construct", "pendulum", "rich"} & fresh(code)
