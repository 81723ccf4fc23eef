"""Read a save's clock in a few lines.

python examples/read_a_clock.py examples/saves/healthy.sav
"""

import sys

import rtcsave

if len(sys.argv) != 2:
    sys.exit("usage: python read_a_clock.py SAVE")
try:
    save = rtcsave.load(sys.argv[1])
    block = save.clock_block
except rtcsave.RtcSaveError as error:
    sys.exit(f"read_a_clock: {error}")
print(f"{block.running.reading()} when it was saved, at {block.saved_at or 'an unknown instant'}")
for finding in rtcsave.check(save):
    print(f"{finding.severity}: {finding.message}")
