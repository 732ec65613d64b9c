"""board.py: the node on its emulated board, with its host's line and its converter in the test's hands.

QEMU counts instructions (-icount), so that the board's time stands still while the test's machine is busy. The converter's own
clock is the number in its samples: a test that feeds two hundred samples has let four seconds pass, however long it took."""

import os
import pathlib
import select
import socket
import struct
import subprocess
import time

PATIENCE_S = 60  # of a test that waits for what must come; never a measure of anything
RAD_PER_COUNT = 0.5 / 8388608
BUTTON, FAULT = 1, 2
WINDOW = 6  # samples that may be on their way


def crc8(data):
    crc = 0
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = ((crc << 1) ^ 0x107) if crc & 0x80 else crc << 1
    return crc & 0xFF


def frame(number, slope, roll, temperature_cC=2000, flags=0):
    body = struct.pack("<HiihB", number & 0xFFFF, slope, roll, temperature_cC, flags)
    return b"\xa5\x5a" + body + bytes([crc8(body)])


def checked(line):
    """The fields of a sentence whose checksum is right, else None. Source: NMEA 0183, exclusive or between '$' and '*'."""
    if not line.startswith("$") or line[-3:-2] != "*":
        return None
    total = 0
    for character in line[1:-3]:
        total ^= ord(character)
    return line[1:-3].split(",") if int(line[-2:], 16) == total else None


class Board:
    """`pty`: the host's line is a pseudo-terminal for another program, and this path a link to it; else it is the test's."""

    def __init__(self, image, lasting=None, counts=True, pty=None):
        self.host, host_theirs = socket.socketpair()
        self.sensor, sensor_theirs = socket.socketpair()
        host_theirs.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, 4096)  # what a host does not read comes to a stop soon
        command = ["qemu-system-arm", "-nodefaults", "-nic", "none", "-display", "none", "-monitor", "none",
                   *(["-icount", "shift=3,sleep=on"] if counts else []), "-kernel", image,
                   "-chardev", "pty,id=host" if pty else f"socket,id=host,fd={host_theirs.fileno()}", "-serial", "chardev:host",
                   "-chardev", f"socket,id=sensor,fd={sensor_theirs.fileno()}", "-serial", "chardev:sensor"]
        if lasting:
            command += ["-object", f"memory-backend-file,id=lasting,size=16M,mem-path={lasting},share=on",
                        "-machine", "mps2-an386,memory-backend=lasting"]
        else:
            command += ["-machine", "mps2-an386"]
        self.process = subprocess.Popen(command, pass_fds=[host_theirs.fileno(), sensor_theirs.fileno()],
                                        stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
        host_theirs.close()
        sensor_theirs.close()
        self.reads = not pty  # False: nobody takes what the node says
        if pty:
            said = self.process.stdout.readline().decode()
            terminal = said.split("redirected to ")[1].split()[0]
            pathlib.Path(pty).unlink(missing_ok=True)
            os.symlink(terminal, pty)
        self.host.setblocking(False)
        self.sensor.setblocking(False)
        self.text = b""
        self.lines = []  # every whole line so far
        self.seen = 0  # lines that wait_for() has gone past
        self.number = 0  # of the next sample
        self.acknowledged = 0xFF
        self.excited = False
        self.gone = False

    def close(self):
        if self.process.poll() is None:
            self.process.kill()
        self.process.wait()
        self.process.stdout.close()
        self.host.close()
        self.sensor.close()

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.close()

    def kill(self):
        """As when the power goes."""
        self.process.kill()
        self.process.wait()
        self.poll(0)

    def poll(self, timeout=0.02):
        """Takes what has come on both lines; True when there was something."""
        wanted = [self.sensor] + ([self.host] if self.reads else [])
        ready, _, _ = select.select(wanted, [], [], timeout)
        for line in ready:
            try:
                data = line.recv(65536)
            except (BlockingIOError, ConnectionResetError):
                continue
            if line is self.sensor:
                for byte in data:
                    if byte in b"Ee" and byte == (ord("e") if self.excited else ord("E")) and \
                            not self.expects(byte):
                        self.excited = byte == ord("E")
                    else:
                        self.acknowledged = byte
                continue
            self.text += data
            *whole, self.text = self.text.split(b"\n")
            self.lines += [each.rstrip(b"\r").decode("ascii", "replace") for each in whole]
        if ready and not any(self.process_alive()):
            return False
        return bool(ready)

    def expects(self, byte):
        """Whether a number on its way is just this byte."""
        on_way = (self.number - 1 - self.acknowledged) & 0xFF
        return 0 < on_way <= WINDOW and ((byte - self.acknowledged) & 0xFF) in range(1, on_way + 1)

    def process_alive(self):
        yield self.process.poll() is None

    def fail(self, what):
        raise AssertionError(f"{what}; the last lines were:\n" + "\n".join(self.lines[-15:]) +
                             f"\nof {len(self.lines)}; emulator: {self.process.poll()}")

    def say(self, text):
        self.host.setblocking(True)
        self.host.sendall(text.encode() + b"\r\n")
        self.host.setblocking(False)

    def wait_for(self, *begin):
        """The next sentence that begins with these fields; all before it count as gone past."""
        end = time.monotonic() + PATIENCE_S
        while True:
            while self.seen < len(self.lines):
                fields = checked(self.lines[self.seen])
                self.seen += 1
                if fields and tuple(fields[:len(begin)]) == begin:
                    return fields
            if time.monotonic() > end:
                self.fail("waited for " + ",".join(begin))
            if not self.poll() and self.process.poll() is not None:
                self.fail("the emulator ended while waiting for " + ",".join(begin))

    def ask(self, text, *begin):
        self.seen = len(self.lines)
        self.say(text)
        return self.wait_for(*begin)

    def sample(self, slope=0, roll=0, temperature_cC=2000, flags=0, noise=b""):
        """One conversion, when the node has room for it."""
        end = time.monotonic() + PATIENCE_S
        while ((self.number - 1 - self.acknowledged) & 0xFF) >= WINDOW:
            if time.monotonic() > end:
                self.fail("the node takes no samples")
            self.poll()
        if self.excited:
            slope, roll = slope + 100000, roll + 100000
        self.raw(noise + frame(self.number, slope, roll, temperature_cC, flags))
        self.number = (self.number + 1) & 0xFFFF

    def raw(self, data):
        self.sensor.setblocking(True)
        self.sensor.sendall(data)
        self.sensor.setblocking(False)
        self.poll(0)

    def samples(self, count, slope=0, roll=0, **more):
        """At rest, with the least noise that a converter has."""
        for i in range(count):
            self.sample(slope + (i * 7) % 5 - 2, roll + (i * 11) % 5 - 2, **more)

    def settle(self):
        """Until all samples so far are taken."""
        end = time.monotonic() + PATIENCE_S
        while self.acknowledged != (self.number - 1) & 0xFF:
            if time.monotonic() > end:
                self.fail("the node does not take the samples")
            self.poll()
