"""A layout as data: the one statement of where a clock lies in a block's bytes."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any, ClassVar

from rtcsave.clocks import Clock, CounterClock, Register
from rtcsave.errors import BadArgument, shown
from rtcsave.layouts.fields import CLOCKS, Checksum, Field, Order, Part
from rtcsave.layouts.soundness import refuse_nonsense
from rtcsave.stamps import StampForm
from rtcsave.when import whole_number


@dataclass(frozen=True, slots=True, kw_only=True, repr=False, eq=False)
class Layout:
    """How a clock block is laid out: `size` bytes holding the words of `fields`.

    `clock` is the kind of clock (`counter`, `minutes`, `calendar`), `stamp` how its stamp is to be read
    (None: there is none), `checksum` how one is made (None: there is none). A `standalone` layout is only
    ever a file of its own, never after a memory image. `summary` is a line for people. A table that does
    not hold together raises `BadDescription`.
    """

    name: str
    """Its name."""
    size: int
    fields: tuple[Field, ...]
    clock: str = CounterClock.kind
    stamp: StampForm | None = None
    checksum: Checksum | None = None
    standalone: bool = False
    summary: str = ""

    block_type: ClassVar[Callable[..., Any]]
    """`ClockBlock`, which says so itself: what a construct of this layout parses to."""

    def __post_init__(self) -> None:
        refuse_nonsense(self)

    @property
    def clock_type(self) -> type[Clock]:
        """The class of its clock."""
        return CLOCKS[self.clock]

    def part(self, name: Part) -> tuple[Field, ...]:
        """The words of one part: `running`, `latched`, `stamp`, `constant` or `checksum`."""
        return tuple(field for field in self.fields if field.part == name)

    def field_at(self, offset: int) -> Field | None:
        """The word that holds the byte at an offset of the block, None for a byte that none describes."""
        at = whole_number(offset, "an offset")
        return next((field for field in self.fields if field.offset <= at < field.end), None)

    def construct(self) -> Any:
        """A construct of this layout, for a declaration of your own: it parses to a `ClockBlock`.

        It builds every bit of the block back, has a size, is picklable, and stands inside `Struct`,
        `Array` and `GreedyRange`. It raises construct's own errors: `StreamError` for too few bytes,
        `ValidationError` where what is to be built is no block of this layout. Loads construct.
        """
        from rtcsave.layouts._engine import BlockAdapter

        return BlockAdapter(self)

    def __eq__(self, other: object) -> bool:
        if self is other:
            return True
        if not isinstance(other, Layout):
            return NotImplemented
        return self._key() == other._key()

    def __hash__(self) -> int:
        return hash((self.name, self.size))  # cheap: every `loads` asks for it

    def _key(self) -> tuple[object, ...]:
        return (
            self.name,
            self.size,
            self.fields,
            self.clock,
            self.stamp,
            self.checksum,
            self.standalone,
            self.summary,
        )

    def __repr__(self) -> str:
        return f"<Layout {self.name}: {self.size} bytes, {self.clock} clock>"


def register_words(
    registers: Sequence[Register], part: Part, size: int, order: Order, start: int
) -> Sequence[Field]:
    """The words of a part in which each of some registers of a clock has a word of its own."""
    return [
        Field(
            name=f"{part}_{register.name}",
            offset=start + size * at,
            size=size,
            part=part,
            order=order,
            bits=register.bits,
        )
        for at, register in enumerate(registers)
    ]


def check_layouts(layouts: object) -> tuple[Layout, ...]:
    """Return `layouts` as a tuple if each is one; `BadArgument` if not."""
    if isinstance(layouts, (str, bytes)) or not isinstance(layouts, Iterable):
        raise BadArgument("this is no row of layouts", found=shown(layouts))
    return tuple(check_layout_type(layout) for layout in layouts)


def check_layout_type(layout: object) -> Layout:
    """Return `layout` if it is one; `BadArgument` if not."""
    if not isinstance(layout, Layout):
        raise BadArgument(
            "this is not a layout",
            found=shown(layout),
            expected="a layout's name or a Layout",
        )
    return layout
