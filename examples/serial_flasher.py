"""A flasher over a serial line: puts a save's clock on a cartridge at an instant, and reads it back.

The device at the other end is simulated, on a pseudo-terminal pair; `--fault` lets it drop a byte,
answer late, or vanish. The protocol is this example's own: a request of seven bytes, a reply of five, each
with a number, so that a request that is sent again is not done twice.

    request: C5h, number, 'R' or 'W', address high, address low, value, sum of the five before
    reply:   5Ch, number, value (0 for a write), 00h or 01h for "nothing answers", sum of the three before

    python examples/serial_flasher.py SAVE [--fault drop|late|vanish]

On a real line only `open_line` changes. On Windows there are no pseudo-terminals: open COM3 or the like with
the pyserial package (`serial.Serial("COM3", 115200, timeout=...)`), whose `read` and `write` replace those of
`os` here; its `read` returns fewer bytes when the time is over, as `Line.read` does.
"""

from __future__ import annotations

import argparse
import os
import select
import sys
import threading
import time

import rtcsave
from rtcsave import CounterChip

REQUEST, REPLY = 0xC5, 0x5C
ANSWER_S = 0.05
TRIES = 5


def with_sum(frame: bytes) -> bytes:
    """A frame with the sum of what is after its first byte."""
    return frame + bytes([sum(frame[1:]) & 0xFF])


class Line:
    """One end of a serial line: bytes out, and bytes in within a time."""

    def __init__(self, descriptor: int) -> None:
        self.descriptor = descriptor

    def write(self, data: bytes) -> None:
        """Send bytes."""
        os.write(self.descriptor, data)

    def read(self, size: int, within_s: float) -> bytes:
        """So many bytes, or fewer where they do not come in time."""
        data, end = b"", time.monotonic() + within_s
        while len(data) < size:
            left_s = end - time.monotonic()
            if left_s <= 0 or not select.select([self.descriptor], [], [], left_s)[0]:
                break
            data += os.read(self.descriptor, size - len(data))
        return data


class SerialBus:
    """What a sequence needs of a flasher: read, write and wait, over the line."""

    def __init__(self, line: Line) -> None:
        self.line = line
        self.number = 0
        self.sent_again = 0

    def read(self, address: int) -> int | None:
        """Read a byte of the cartridge's bus; None where nothing answers."""
        return self.ask(ord("R"), address, 0)

    def write(self, address: int, value: int) -> None:
        """Write a byte."""
        self.ask(ord("W"), address, value)

    def wait(self, microseconds: int) -> None:
        """Wait at least so long; the line itself is slower."""
        time.sleep(microseconds / 1_000_000)

    def ask(self, what: int, address: int, value: int) -> int | None:
        """Send a request until its own reply comes; `OSError` when none comes."""
        self.number = (self.number + 1) & 0xFF
        frame = bytes([REQUEST, self.number, what, address >> 8, address & 0xFF, value])
        for _ in range(TRIES):
            self.line.write(with_sum(frame))
            reply = self.reply()
            if reply is not None:
                return None if reply[3] else reply[2]
            self.sent_again += 1
        raise OSError(f"the device does not answer (access to {address:04X}h)")

    def reply(self) -> bytes | None:
        """The reply with this request's number; older ones are passed over."""
        end = time.monotonic() + ANSWER_S
        while time.monotonic() < end:
            if self.line.read(1, end - time.monotonic()) != bytes([REPLY]):
                continue  # not the beginning of one
            reply = bytes([REPLY]) + self.line.read(4, end - time.monotonic())
            if len(reply) == 5 and reply == with_sum(reply[:4]) and reply[1] == self.number:
                return reply
        return None


class Device(threading.Thread):
    """The simulated device with a cartridge in it: a model of the clock's chip, running in real time."""

    def __init__(self, line: Line, fault: str) -> None:
        super().__init__(daemon=True)
        self.line, self.fault = line, fault
        self.chip = CounterChip()
        self.is_running = True
        self.last: tuple[int, bytes] = (-1, b"")
        self.requests = 0

    def run(self) -> None:
        """Answer requests."""
        then = time.monotonic()
        while self.is_running:
            frame = self.line.read(1, 0.1)
            if frame != bytes([REQUEST]):
                continue
            frame += self.line.read(6, ANSWER_S / 2)
            if len(frame) != 7 or frame != with_sum(frame[:6]):
                continue
            now = time.monotonic()
            self.chip.run(now - then)
            then = now
            self.answer(frame)

    def answer(self, frame: bytes) -> None:
        """Do a request, once, and send its reply, with the fault that is wanted."""
        self.requests += 1
        number, address, value = frame[1], frame[3] << 8 | frame[4], frame[5]
        if number != self.last[0]:
            found: int | None = 0
            if frame[2] == ord("R"):
                found = self.chip.read(address)
            else:
                self.chip.write(address, value)
            reply = bytes([REPLY, number, found or 0, found is None])
            self.last = (number, with_sum(reply))
        reply = self.last[1]
        if self.fault == "drop" and self.requests % 7 == 0:
            reply = reply[:2] + reply[3:]
        if self.fault == "late" and self.requests % 9 == 0:
            time.sleep(1.5 * ANSWER_S)
        if self.fault == "vanish" and self.requests > 20:
            return
        self.line.write(reply)


def open_line() -> tuple[Line, Line]:
    """Both ends of a simulated line. With hardware: open the port, and there is one end."""
    if sys.platform == "win32":
        sys.exit("serial_flasher: Windows has no pseudo-terminals; see the beginning of this file")
    else:
        import pty
        import tty

        ours, theirs = pty.openpty()
        tty.setraw(ours)
        tty.setraw(theirs)
        return Line(ours), Line(theirs)


def main() -> int:
    """Write the clock of a save at an instant two seconds ahead, and read it back."""
    parser = argparse.ArgumentParser(description="Put a save's clock on a simulated cartridge.")
    parser.add_argument("save")
    parser.add_argument("--fault", choices=("none", "drop", "late", "vanish"), default="none")
    args = parser.parse_args()
    at = int(time.time()) + 2
    try:
        save = rtcsave.load(args.save)
        sequence = rtcsave.sequence_to_write(save.clock_block, at=at)
        clock = save.advance_to(at).clock_block.running
    except rtcsave.RtcSaveError as error:
        sys.exit(f"serial_flasher: {error}")
    if clock.kind != "counter":
        sys.exit("serial_flasher: the simulated cartridge has a day-counter clock")
    ours, theirs = open_line()
    device, bus = Device(theirs, args.fault), SerialBus(ours)
    device.start()
    try:
        sequence.replay(bus, at_due=sequence.sleep_until_due)
        print(f"written: {clock.reading()}, due at Unix second {at}")
        reading = rtcsave.sequence_to_read("counter", twice=True)
        found = reading.replay(bus)
        shown, read_at = reading.clock(found), time.time()
        for doubt in reading.doubts(found):
            print(f"mind: {doubt}")
    except (rtcsave.NotTaken, OSError) as error:
        print(f"serial_flasher: {error}", file=sys.stderr)
        for note in getattr(error, "__notes__", ()):
            print(f"serial_flasher: {note}", file=sys.stderr)
        return 1
    finally:
        device.is_running = False
        device.join()
    late_s = read_at - at - (shown.to_seconds() - clock.to_seconds())
    print(f"read back: {shown.reading()}, {late_s:.1f} s after it began to show that")
    print(f"sent again: {bus.sent_again}")
    return 0 if -0.5 < late_s < 1.5 else 1


if __name__ == "__main__":
    sys.exit(main())
