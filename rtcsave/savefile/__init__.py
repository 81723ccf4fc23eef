"""A save: the memory image, untouched, and the clock block after it; bytes to it, and back."""

from rtcsave.savefile.making import read_from
from rtcsave.savefile.origin import Origin
from rtcsave.savefile.reading import dumps, loads
from rtcsave.savefile.save import SaveFile, check_save

__all__ = ["Origin", "SaveFile", "check_save", "dumps", "loads", "read_from"]
