#!/usr/bin/env python3
"""The whole job with the emulated node as the instrument: the node on its board, hangtrued on its line through a pseudo-terminal, a run
that does not hang as its sheet has it, and what the card then says.

    job.py FOLDER-OF-IMAGES FOLDER-OF-PROGRAMS RUN.toml --stage NAME --off "SUPPORT=1.5 mm" --book B.levelbook [--page ADDRESS:PORT]

First the node makes its own card from the packed run. At the end the daemon stays with its page until standard input gives a line or ends.

The truth is the sheet's own prediction with one support standing off. The converter shows at each station what the feet of the node would
see of it, both ways round, with a zero error of its own and noise (a fixed seed)."""

import argparse
import json
import math
import pathlib
import random
import re
import subprocess
import sys
import tempfile
import threading
import time

from board import BUTTON, PATIENCE_S, RAD_PER_COUNT, Board

KIT = """# Invented: the node of the emulated board.
[[instrument]]
name = "node"
port = "{port}"
baud = 115200
speaks = "xdr"
calibration = {{ date = 2026-08-03, due = 2099-08-03, certificate = "invented" }}
[[instrument.channel]]
transducer = "ALONG"
gives = "slope"
base = "300 mm"
sigma = "0.02 mm/m"
zero_sigma = "0.3 mm/m"
settle = {{ window = "{window}", spread = "0.08 mm/m" }}
station = "walking"
scale_checked = 2026-09-20
[[instrument.channel]]
transducer = "ACROSS"
gives = "roll"
sigma = "0.02 mm/m"
zero_sigma = "0.3 mm/m"
settle = {{ window = "{window}", spread = "0.08 mm/m" }}
station = "walking"
scale_checked = 2026-09-20
[[instrument.channel]]
transducer = "CASE"
gives = "temperature"
[[instrument.channel]]
transducer = "DIAL"
gives = "station"
"""
BASE_M = 0.3
ZERO = (0.21e-3, -0.13e-3)  # of the converter's axes, rad




def millimetres(text):
    return float(re.fullmatch(r"(-?[0-9.]+) mm", text)[1]) / 1000


def stations_of(text):
    """Of a sheet with stations = { every = "..." }: from end to end, the last where the run ends."""
    length = millimetres(re.search(r'^length = "([^"]*)"', text, re.M)[1])
    every = millimetres(re.search(r'^stations = \{ every = "([^"]*)" \}', text, re.M)[1])
    count = int(length / every + 1e-6)
    places = [i * every for i in range(count + 1)]
    return (places if length - places[-1] < 1e-6 else places + [length]), length


class Truth:
    """What the node's feet see at each station: the sheet's own prediction, with one support standing off."""

    def __init__(self, command, text, stage, off, folder):
        support, amount = off.split("=")
        head = re.search(rf'\[\[support\]\]\s*name = "{re.escape(support)}"\n', text)
        if not head:
            sys.exit(f'the sheet has no support "{support}"')
        stations, length = stations_of(text)
        feet = [min(max(at - BASE_M / 2, 0), length - BASE_M) for at in stations]
        places = sorted({round(x, 6) for first, at in zip(feet, stations) for x in (first, at, first + BASE_M)})
        rest = text[head.end():]
        own, after = (rest.split("[[", 1) + [""])[:2]
        mean = f'rise_mean = "{amount}"'
        own = own.replace("prior = {", f"prior = {{ {mean},", 1) if "prior = {" in own else f"prior = {{ {mean} }}\n" + own
        text = text[:head.end()] + own + "[[" + after
        text = re.sub(r"^stations = .*$", "stations = [" + ", ".join(f'"{x * 1000:.3f} mm"' for x in places) + "]", text, flags=re.M)
        sheet = pathlib.Path(folder) / "truth.toml"
        sheet.write_text(text)
        said = subprocess.run([command, "predict", str(sheet), "--json"], capture_output=True, text=True)
        if said.returncode > 1:
            sys.exit(said.stderr)
        self.predicted = json.loads(said.stdout)
        shape = next(each for each in self.predicted["stages"] if each["name"] == stage)

        def at(x, of):
            return min(zip(shape["at_m"], shape[of]), key=lambda each: abs(each[0] - x))[1]

        self.slope = [(at(first + BASE_M, "height_m") - at(first, "height_m")) / BASE_M for first in feet]
        self.roll = [at(x, "roll_rad") for x in stations]
        self.level_error_m = self.predicted["level_error_m"]
        self.near_start = shape["supports"][0]["name"]


class Node:
    """The board on a pseudo-terminal at a path that stays; fed without end by a thread with what it is to see."""

    def __init__(self, images, folder, seed=17):
        self.image, self.folder = str(pathlib.Path(images) / "hangtrue_node_firmware.elf"), pathlib.Path(folder)
        self.port, self.draw = self.folder / "node-line", random.Random(seed)
        self.board, self.thread, self.sees, self.pressed = None, None, (0.0, 0.0), 0

    def start(self):
        self.board = Board(self.image, str(self.folder / "lasting"), pty=str(self.port))
        self.going = True
        self.thread = threading.Thread(target=self.feed, daemon=True)
        self.thread.start()

    def feed(self):
        while self.going:
            for _ in range(5):
                slope, roll = (int(round((value + zero) / RAD_PER_COUNT)) + self.draw.randrange(-2, 3)
                               for value, zero in zip((math.atan(self.sees[0]), self.sees[1]), ZERO))
                flags = BUTTON if self.pressed > 0 else 0
                self.pressed = max(self.pressed - 1, 0)
                self.board.sample(slope, roll, flags=flags)
            self.board.poll(0.02)

    def cut_power(self):
        """The emulator is killed, whatever it is doing."""
        self.going = False
        self.thread.join()
        self.board.close()

    def press(self):
        self.pressed = 5


class Daemon:
    def __init__(self, programs, run, kit, book, stage, page="off"):
        command = [str(pathlib.Path(programs) / "firmware-host/hangtrued"), str(run), str(kit), "--book", str(book), "--stage", stage,
                   "--page", page, "--patience", str(PATIENCE_S)]
        self.process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
        self.lines, self.seen, self.more = [], 0, threading.Condition()
        self.listener = threading.Thread(target=self.listen, daemon=True)
        self.listener.start()
        self.wait_for("ready ")

    def listen(self):
        for line in self.process.stdout:
            with self.more:
                self.lines.append(line.rstrip("\n"))
                self.more.notify_all()

    def wait_for(self, *begins):
        end = time.monotonic() + PATIENCE_S
        with self.more:
            while True:
                while self.seen < len(self.lines):
                    self.seen += 1
                    if self.lines[self.seen - 1].startswith(begins):
                        return self.lines[self.seen - 1]
                if not self.more.wait(end - time.monotonic()):
                    raise AssertionError(f"hangtrued says nothing that begins with {begins}:\n" + "\n".join(self.lines[-20:]))

    def say(self, text):
        self.seen = len(self.lines)
        self.process.stdin.write(text + "\n")
        self.process.stdin.flush()

    def ask(self, text, *begins):
        self.say(text)
        line = self.wait_for(*begins, "refused ")
        if line.startswith("refused ") and "refused " not in begins:
            raise AssertionError(f"{text}: {line}")
        return line

    def until(self, command, *parts):
        """Asks until a line of the answer has all of these."""
        end = time.monotonic() + PATIENCE_S
        while time.monotonic() < end:
            begin = len(self.lines)
            self.ask(command, command + " end")
            if any(all(part in line for part in parts) for line in self.lines[begin:]):
                return
            time.sleep(0.1)
        raise AssertionError(f"{command} never says {parts}:\n" + "\n".join(self.lines[-20:]))

    def end(self):
        if self.process.poll() is None:
            self.process.terminate()
        self.process.wait(PATIENCE_S)

    def kill(self):
        self.process.kill()
        self.process.wait()
        self.listener.join()
        self.process.stdin.close()
        self.process.stdout.close()


def write_kit(folder, port, window):
    path = pathlib.Path(folder) / "kit.toml"
    path.write_text(KIT.format(port=port, window=window))
    return path


def walk(node, daemon, truth, tell=lambda line: None):
    """Every station both ways round, by the node's button; then the first, the middle and the last once more."""
    def both_ways(i):
        for face in (1, 2):
            daemon.ask(f"face {face}", "here ")
            sign = 1 if face == 1 else -1
            node.sees = (sign * truth.slope[i], sign * truth.roll[i])
            tell(daemon.ask("take", "taken "))

    daemon.ask(f"start at {truth.near_start}", "told ")
    count = len(truth.slope)
    for i in range(count):
        node.sees = (truth.slope[i], truth.roll[i])
        daemon.seen = len(daemon.lines)
        node.press()
        tell(daemon.wait_for("station "))
        both_ways(i)
    for i in (0, count // 2, count - 1):
        daemon.ask(f"station {i + 1}", "here ")
        both_ways(i)


def packed_card(images, command, run, kit, stage, truth, folder):
    """The packed run goes to the node over its line; it reads every station by itself, one way round, and makes its own card."""
    packed = pathlib.Path(folder) / "run.htr"
    print(subprocess.run([command, "pack", str(run), str(kit), "--stage", stage, "-o", str(packed)], check=True,
                         capture_output=True, text=True).stdout, end="")
    data = packed.read_bytes()
    with Board(str(pathlib.Path(images) / "hangtrue_node_firmware.elf")) as board:
        board.wait_for("HTNOD", "start")
        board.ask("run begin", "HTNOD", "run", "begun")
        for at in range(0, len(data), 64):
            board.ask(f"run data {at} {data[at:at + 64].hex()}", "HTNOD", "run", "data")
        board.ask(f"run end {len(data)}", "HTNOD", "run", "taken")
        for i, (slope, roll) in enumerate(zip(truth.slope, truth.roll)):
            counts = [int(round(value / RAD_PER_COUNT)) for value in (math.atan(slope), roll)]
            board.samples(60, *counts)  # carried there; its filter comes to rest
            board.settle()
            board.ask(f"station {i + 1}", "HTNOD", "station")
            board.samples(170, *counts)
            board.wait_for("HTRDG", str(i + 1))
        board.say("card")
        board.wait_for("HTCRD", "end")
        return [line[1:-3].split(",")[1:] for line in board.lines if line.startswith("$HTCRD")]


def main():
    arguments = argparse.ArgumentParser(description=__doc__.split("\n", 1)[0])
    for name in ("images", "programs", "run"):
        arguments.add_argument(name)
    for name in ("--stage", "--off", "--book"):
        arguments.add_argument(name, required=True)
    arguments.add_argument("--page", default="127.0.0.1:0")
    given = arguments.parse_args()
    command = str(pathlib.Path(given.programs) / "tools/hangtrue")
    with tempfile.TemporaryDirectory() as folder:
        truth = Truth(command, pathlib.Path(given.run).read_text(), given.stage, given.off, folder)
        node = Node(given.images, folder)
        kit = write_kit(folder, node.port, "1 s")

        print("The node's own card, from the packed run:")
        for fields in packed_card(given.images, command, given.run, kit, given.stage, truth, folder):
            if fields[0] in ("fit", "move", "stack", "end"):
                print("  " + " ".join(fields))

        node.start()
        print(f"\nThe daemon reads the node through {node.port}, both ways round at {len(truth.slope)} stations:", flush=True)
        daemon = Daemon(given.programs, given.run, kit, given.book, given.stage, given.page)
        try:
            walk(node, daemon, truth, lambda line: print("  " + line, flush=True))
            daemon.ask("card", "|")
            time.sleep(1)  # its last lines
            print("\n" + "\n".join(line[2:] for line in daemon.lines if line.startswith("| ")))
            print(f"\nThe truth: {given.off}; level error {truth.level_error_m * 1000:.2f} mm.")
            print("\n" + next(line for line in daemon.lines if line.startswith("page ")))
            print("The daemon stays, and the node goes on sending, until Enter.", flush=True)
            sys.stdin.readline()
            daemon.ask("done", "done ")
            daemon.process.wait(PATIENCE_S)
        finally:
            daemon.end()
            node.cut_power()
    return 0


if __name__ == "__main__":
    sys.exit(main())
