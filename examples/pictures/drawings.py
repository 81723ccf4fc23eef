"""The pictures of the README and of the guide "How this clock works", drawn from the program itself.

Each function gives an SVG as text: right to the bit, in light and in dark, without a font from the net.
A test compares them with the files here; `python examples/pictures/make_pictures.py` makes them anew.
"""

from __future__ import annotations

import contextlib
import html
import io
import pathlib
import re
from collections.abc import Iterable

from rich.console import Console
from rich.text import Text

import rtcsave
from rtcsave import CounterClock
from rtcsave.cli.main import main
from rtcsave.layouts.annotation import annotate

HERE = pathlib.Path(__file__).parent
SAVE = HERE.parent / "saves" / "healthy.sav"
NOW = "2026-10-01T12:00:00Z"
DAY_S = 86_400
LIGHT = {
    "text": "#1a1f24", "soft": "#56606a", "line": "#56606a", "page": "#ffffff", "memory": "#e3e7eb",
    "running": "#bfe3c6", "latched": "#c3ddf5", "stamp": "#ecd0ee", "flag": "#f7d9a8", "unused": "#f1f3f5",
    "fan": "#c3ddf5", "curve": "#1f5f9e",
}  # fmt: skip
DARK = {
    "text": "#e8ecef", "soft": "#a9b3bc", "line": "#a9b3bc", "page": "#14181c", "memory": "#3a424a",
    "running": "#1f5a2c", "latched": "#1d4a73", "stamp": "#6a3470", "flag": "#74501a", "unused": "#22282d",
    "fan": "#1d4a73", "curve": "#8cc4f5",
}  # fmt: skip
FONTS = """text { font: 13px system-ui, sans-serif } .mono { font-family: ui-monospace, monospace }
.small { font-size: 11px } .big { font-size: 15px; font-weight: 600 }
.line, .curve { fill: none } .curve { stroke-width: 2 } .dashed { stroke-dasharray: 4 3 }"""


def colours(theme: dict[str, str]) -> str:
    """The rules of a theme."""
    rules = [f"text {{ fill: {theme['text']} }} .edge, .line {{ stroke: {theme['line']} }}"]
    rules.append(f".curve {{ stroke: {theme['curve']} }}")
    areas = [name for name in theme if name not in ("text", "line", "curve")]
    return "\n".join([*rules, *(f".{name} {{ fill: {theme[name]} }}" for name in areas)])


STYLE = f"{FONTS}\n{colours(LIGHT)}\n@media (prefers-color-scheme: dark) {{\n{colours(DARK)}\n}}"


def drawing(width: int, height: int, title: str, parts: Iterable[str]) -> str:
    """An SVG of some parts, with a title for people who hear it."""
    body = "\n".join(parts)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" role="img">\n'
        f"<title>{html.escape(title)}</title>\n<style>\n{STYLE}\n</style>\n"
        f'<rect width="{width}" height="{height}" class="page"/>\n{body}\n</svg>\n'
    )


def text(x: float, y: float, words: str, kind: str = "", anchor: str = "start") -> str:
    """A line of text."""
    return f'<text x="{x:g}" y="{y:g}" class="{kind}" text-anchor="{anchor}">{html.escape(words)}</text>'


def caption(y: float, *lines: str) -> list[str]:
    """Lines below a drawing, from a height on."""
    return [text(10, y + 18 * at, words, "soft") for at, words in enumerate(lines)]


def box(x: float, y: float, width: float, height: float, kind: str) -> str:
    """A box with an edge."""
    return f'<rect x="{x:g}" y="{y:g}" width="{width:g}" height="{height:g}" class="edge {kind}"/>'


def line(points: Iterable[tuple[float, float]], kind: str = "line") -> str:
    """A line through some points."""
    joined = " ".join(f"{x:g},{y:g}" for x, y in points)
    return f'<polyline points="{joined}" class="{kind}"/>'


def save_file() -> str:
    """A save file: memory, running and latched registers, stamp, with the bytes of an example."""
    save = rtcsave.load(SAVE)
    words = annotate(save.clock_block)
    parts = [text(10, 22, "A save file", "big"), box(10, 36, 700, 40, "memory")]
    parts.append(
        text(360, 61, f"memory image: {len(save.memory):,} bytes, the game's own", "", "middle")
    )
    start = len(save.memory)
    for at, (part, name) in enumerate(
        (("running", "running registers"), ("latched", "latched registers"), ("stamp", "stamp"))
    ):
        chosen = [word for word in words if word.part == part]
        first, last = chosen[0].offset, chosen[-1].offset + len(chosen[-1].data) - 1
        top = 86 + 62 * at
        parts.append(box(10, top, 700, 54, part))
        size = last - first + 1
        parts.append(text(20, top + 20, f"{name}: {size} bytes"))
        parts.append(text(700, top + 20, f"bytes {start + first:,} to {start + last:,}", "", "end"))
        data = b"".join(word.data for word in chosen)
        parts.append(text(20, top + 42, data.hex(" "), "mono small"))
    running = save.clock_block.running
    parts += caption(
        292,
        f"running: {running.reading()}, the clock itself; latched: the copy that the game last read;",
        "stamp: when the block was written. The three together are the clock block.",
    )
    return drawing(
        720, 322, "A save file: memory image, running registers, latched registers, stamp", parts
    )


def registers() -> str:
    """The five registers of the day-counter clock, bit by bit, from the clock's own table."""
    parts = [text(10, 22, "The five registers of the day-counter clock", "big")]
    for bit in range(8):
        parts.append(text(195 + 62 * (7 - bit), 44, f"bit {bit}", "soft small", "middle"))
    for row, register in enumerate(CounterClock.REGISTERS):
        top = 54 + 38 * row
        parts.append(text(10, top + 21, f"{register.address:02X}h"))
        parts.append(text(48, top + 21, register.name.replace("_", " ")))
        for bit in range(8):
            field = next((bits for bits in register.bits if bits.mask >> bit & 1), None)
            kind, words = "unused", "0"
            if field is not None:
                is_flag = next(f for f in CounterClock.FIELDS if f.name == field.field).is_flag
                kind = "flag" if is_flag else "running"
                words = field.field if is_flag else str(1 << bit - field.at + field.onto)
            left = 164 + 62 * (7 - bit)
            parts.append(box(left, top, 62, 30, kind))
            parts.append(text(left + 31, top + 20, words, "small", "middle"))
    parts += caption(
        266,
        "Each number is the value of its bit. Seconds and minutes go to 59, hours to 23, days to 511.",
        "halt stops the clock; carry is set when the day counter overflows. Bits at 0 are not used.",
    )
    return drawing(
        680, 296, "The registers of the day-counter clock and what each bit means", parts
    )


def three_years() -> str:
    """The day counter of a cartridge that is left alone for three years, counted by the library."""
    days = 3 * 365
    clock = CounterClock(seconds=0, minutes=0, hours=0, day_counter=120)
    left, top, width, height = 60, 44, 640, 170
    curves: list[list[tuple[float, float]]] = [[]]
    overflows = []
    before = clock
    for day in range(days + 1):
        now = clock.advance(day * DAY_S)
        if now.day_counter < before.day_counter:
            overflows.append(day)
            curves.append([])
        x, y = left + width * day / days, top + height * (1 - now.day_counter / 512)
        curves[-1].append((x, y))
        before = now
    parts = [
        text(10, 22, "A cartridge left alone for three years", "big"),
        *(line(c, "curve") for c in curves),
    ]
    parts.append(line([(left, top), (left, top + height), (left + width, top + height)]))
    for day in (0, 128, 256, 384, 511):
        parts.append(
            text(left - 8, top + height * (1 - day / 512) + 4, str(day), "soft small", "end")
        )
    for year in range(4):
        parts.append(
            text(left + width * year / 3, top + height + 18, f"year {year}", "soft small", "middle")
        )
    for number, day in enumerate(overflows):
        x = left + width * day / days
        parts.append(line([(x, top), (x, top + height)], "line dashed"))
        said = "overflow: carry is set" if not number else "overflow: carry stays set"
        parts.append(text(x + 5, top + 14, said, "small"))
        parts.append(text(x + 5, top + 29, f"after {day} days", "soft small"))
    end = clock.advance(days * DAY_S)
    parts += caption(
        254,
        f"It began at day {clock.day_counter} and shows day {end.day_counter} with carry "
        f"{'set' if end.carry else 'clear'}.",
        "Carry says that the counter passed day 511 once or more. It cannot say that it was twice.",
    )
    return drawing(
        760, 284, "The day counter over three years, with two overflows and carry", parts
    )


def drift_fan() -> str:
    """How far clocks of a usual crystal part in two years: plus and minus 20 ppm, and worse."""
    left, top, width, height = 60, 44, 620, 180
    most_s, days = 52 * 60, 730
    parts = [text(10, 22, "How far a clock is off after two years", "big")]

    def at(ppm: float, day: int) -> tuple[float, float]:
        off_s = ppm * 1e-6 * day * DAY_S
        return left + width * day / days, top + height / 2 - height / 2 * off_s / most_s

    fan = " ".join(f"{x:g},{y:g}" for x, y in (at(0, 0), at(20, days), at(-20, days)))
    parts.append(f'<polygon points="{fan}" class="fan"/>')
    for ppm in (20, -20, 40, -40):
        parts.append(line([at(0, 0), at(ppm, days)], "curve" if abs(ppm) == 20 else "line dashed"))
    parts.append(line([(left, top), (left, top + height)]))
    parts.append(line([at(0, 0), at(0, days)]))
    for minutes in (-40, -20, 0, 20, 40):
        y = top + height / 2 - height / 2 * minutes * 60 / most_s
        parts.append(
            text(left - 8, y + 4, f"{minutes:+d} min" if minutes else "0", "soft small", "end")
        )
    for ppm in (20, -20, 40, -40):
        x, y = at(ppm, days)
        off_min = ppm * 1e-6 * days * DAY_S / 60
        parts.append(
            text(
                x - 6,
                y + (-6 if ppm > 0 else 14),
                f"{ppm:+d} ppm: {off_min:+.0f} min",
                "small",
                "end",
            )
        )
    for month in range(0, 25, 6):
        parts.append(
            text(
                left + width * month / 24,
                top + height + 18,
                f"month {month}",
                "soft small",
                "middle",
            )
        )
    parts += caption(
        264,
        "±20 ppm (blue) is the usual tolerance of such a crystal at 25 °C. Dashed: twice that.",
        "Positive: the cartridge clock runs fast. 11.574 ppm are one second a day.",
    )
    return drawing(720, 294, "Drift: a fan of plus and minus 20 ppm over two years", parts)


def cell_swap() -> str:
    """What a swap of the cell does to memory and clock, step by step."""
    steps = ("1. dump twice", "3. cell out", "4. cell in", "5. 6. write back", "7. verify")
    memory = {"kept by the cell": "memory", "lost": "unused", "unknown bytes": "unused"}
    memory |= {"written from the dump": "memory", "the same bytes": "memory"}
    clock = {"counts": "running", "stopped": "unused", "wrong, or halted": "unused"}
    clock |= {"advanced, written": "running", "right": "running"}
    parts = [text(10, 22, "What a cell swap does", "big")]
    for at, name in enumerate(steps):
        parts.append(text(150 + 138 * at, 50, name, "", "middle"))
    for row, (name, stages) in enumerate((("memory", memory), ("clock", clock))):
        top = 62 + 52 * row
        parts.append(text(10, top + 26, name))
        for at, (said, kind) in enumerate(stages.items()):
            parts.append(box(82 + 138 * at, top, 134, 42, kind))
            parts.append(text(149 + 138 * at, top + 26, said, "small", "middle"))
    parts += caption(
        190,
        "Without a cell, memory and clock are lost, now or a little later. Only the dump has both: keep",
        "a copy (step 2). Never solder to the bare cell: use a tabbed one, and check the polarity.",
    )
    return drawing(780, 220, "A cell swap: what happens to memory and clock at each step", parts)


def terminal() -> str:
    """`show` on a terminal, as the command prints it."""
    printed = io.TextIOWrapper(io.BytesIO(), encoding="utf-8")
    with contextlib.chdir(SAVE.parent), contextlib.redirect_stdout(printed):
        main(["show", SAVE.name, "--now", NOW])
    printed.flush()
    lines = printed.buffer.getvalue().decode().splitlines()
    console = Console(record=True, width=116, file=io.StringIO(), force_terminal=True)
    console.print(Text(f"$ rtcsave show {SAVE.name}", style="bold"))
    console.print(Text(lines[0], style="bold"))
    for shown in lines[1:]:
        console.print(Text.assemble((shown[:12], "cyan"), shown[12:]))
    svg = console.export_svg(title="rtcsave", unique_id="terminal")
    start, end = svg.index("@font-face"), svg.rindex("@font-face")
    end = svg.index("}", end) + 1
    svg = svg[:start].rstrip() + "\n" + svg[end:].lstrip()
    return re.sub(r"<!--.*?-->", "", svg, flags=re.S).replace("Fira Code", "ui-monospace")


DRAWINGS = {
    "save-file": save_file,
    "registers": registers,
    "three-years": three_years,
    "drift-fan": drift_fan,
    "cell-swap": cell_swap,
    "terminal": terminal,
}
