"""How a clock lies in bytes: tables of fields, the built-in ones, blocks, detection."""

from rtcsave.layouts.block import ClockBlock
from rtcsave.layouts.builtin import BUILT_IN, LAYOUTS, layout_named
from rtcsave.layouts.detection import place_given, place_of
from rtcsave.layouts.fields import Checksum, Field
from rtcsave.layouts.places import Place
from rtcsave.layouts.refusals import why_not
from rtcsave.layouts.table import Layout, check_layouts

__all__ = [
    "BUILT_IN",
    "LAYOUTS",
    "Checksum",
    "ClockBlock",
    "Field",
    "Layout",
    "Place",
    "check_layouts",
    "layout_named",
    "place_given",
    "place_of",
    "why_not",
]
