"""What is wrong with a save: a quick look first, and the entries only where that is not enough."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rtcsave.findings.healthy import is_healthy
from rtcsave.savefile import SaveFile, check_save, dumps
from rtcsave.when import Instant, now_or

if TYPE_CHECKING:
    from rtcsave.findings.entry import Finding
    from rtcsave.header import Header


def check(
    save: SaveFile, header: Header | None = None, now: Instant | None = None
) -> tuple[Finding, ...]:
    """What is wrong with a save, or worth knowing about it; empty for a healthy one.

    `header` (from `read_header`) says what its cartridge should hold; `now` (None: the present) is
    what the stamp is judged by.

    >>> from rtcsave import loads
    >>> save = loads(bytes([61, 40, 13, 44, 1]), layout="registers5")
    >>> [(finding.code, finding.repair) for finding in check(save)]
    [('register-past-range', 'default')]
    """
    now_s = now_or(now)
    if header is None and is_healthy(check_save(save), now_s):
        return ()
    from rtcsave.findings.examination import check_header, recognise
    from rtcsave.findings.scene import Scene

    return recognise(Scene(data=dumps(save), save=save, now_s=now_s, header=check_header(header)))
