"""Strategies for hypothesis: clocks, registers, blocks, saves healthy and damaged, histories, accesses.

For the tests of programs that read and write such clocks, ours among them. What they draw shrinks to
something that a person can read. Needs hypothesis: `pip install "rtcsave[hypothesis]"`.
"""

# what is missing is said first
from importlib import import_module as _import_module

try:
    _import_module("hypothesis")
except ImportError as _error:
    raise ImportError(
        'rtcsave.strategies needs hypothesis: pip install "rtcsave[hypothesis]"'
    ) from _error

from rtcsave.strategies.bus import BusAccess, accesses
from rtcsave.strategies.cartridges import CartridgeHistory, Dump, histories
from rtcsave.strategies.damaged import DAMAGES, saves
from rtcsave.strategies.values import NOW, blocks, clocks, registers

__all__ = [
    "DAMAGES",
    "NOW",
    "BusAccess",
    "CartridgeHistory",
    "Dump",
    "accesses",
    "blocks",
    "clocks",
    "histories",
    "registers",
    "saves",
]
