"""Reading and writing files so that nothing is lost. The only room that knows of systems."""

from rtcsave.storage.backups import Backup, backups, choose, restore
from rtcsave.storage.reading import load, read, read_text
from rtcsave.storage.system import world_failed
from rtcsave.storage.writing import Written, dump, look_before, write

__all__ = [
    "Backup",
    "Written",
    "backups",
    "choose",
    "dump",
    "load",
    "look_before",
    "read",
    "read_text",
    "restore",
    "world_failed",
    "write",
]
