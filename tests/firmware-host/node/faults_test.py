#!/usr/bin/env python3
"""What can go wrong around a node, on the emulated board: each is said, and none ends it.

    faults_test.py FOLDER-OF-IMAGES"""

import pathlib
import random
import struct
import sys
import time
import unittest
import zlib

from board import FAULT, Board, frame

IMAGES = pathlib.Path(sys.argv.pop(1) if len(sys.argv) > 1 else ".")
FIRMWARE = str(IMAGES / "hangtrue_node_firmware.elf")
FULL = 8388607


def packed(more, bows=0):
    """A run description as the node reads it, as far as the count of its first list (packed_run.cpp names the order)."""
    content = b"invented".ljust(24, b"\0") * 2 + struct.pack("<fff", 4.2, 0.38, 0) + bytes([0, 0, bows]) + struct.pack("<f?f", 0.0015, False, 0) + more
    body = b"HTR" + bytes([2]) + struct.pack("<H", len(content)) + content
    return body + struct.pack("<I", zlib.crc32(body))


class Faults(unittest.TestCase):
    def setUp(self):
        self.board = Board(FIRMWARE)
        self.addCleanup(self.board.close)
        self.assertEqual(self.board.wait_for("HTNOD")[1], "start")

    def well(self):
        self.board.samples(5)
        self.board.wait_for("HTNOD", "slope", "well")
        self.board.wait_for("HTNOD", "roll", "well")

    def test_noise_between_and_within_frames_is_counted_and_the_next_frame_is_taken(self):
        board = self.board
        self.well()
        draw = random.Random(17)
        sent = 0
        for i in range(20):
            noise = bytes(draw.randrange(256) for _ in range(draw.randrange(1, 9)))
            sent += len(noise)
            board.sample(i % 3, i % 3, noise=noise)
        board.settle()
        spoilt = bytearray(frame(board.number, 1, 2))
        spoilt[8] ^= 0x10
        board.raw(bytes(spoilt))
        board.number += 1
        board.samples(2)
        board.settle()
        board.ask("who", "HTNOD", "samples")
        board.seen = 0
        said = board.ask("who", "HTNOD", "samples")
        self.assertEqual(said[2:], ["27", "missed", "1", "refused bytes", str(sent + 16)])
        self.assertTrue(any(line.startswith("$HTNOD,noise,sensor bytes") for line in board.lines))

    def test_a_sensor_out_of_range_stuck_or_ill_sends_nothing_and_is_trusted_again(self):
        board = self.board
        self.well()
        for i in range(5):
            board.sample(FULL, 10 + i % 2)
        board.wait_for("HTNOD", "slope", "out of range")
        board.settle()
        board.seen = len(board.lines)
        board.samples(12, FULL, 0)
        fields = board.wait_for("HTXDR", "A")
        self.assertNotIn("ALONG", fields)
        self.assertIn("ACROSS", fields)
        board.samples(3)
        board.wait_for("HTNOD", "slope", "well")
        for i in range(110):
            board.sample(i % 3, 500)
        board.wait_for("HTNOD", "roll", "stuck")
        board.samples(3)
        board.wait_for("HTNOD", "roll", "well")
        board.samples(2, flags=FAULT)
        board.wait_for("HTNOD", "slope", "sensor fault")
        board.samples(3)
        board.wait_for("HTNOD", "slope", "well")

    def test_a_silent_sensor_is_said_and_is_trusted_again(self):
        self.well()
        self.board.wait_for("HTNOD", "slope", "silent")
        self.well()

    def test_a_host_that_does_not_read_loses_sentences_that_are_counted_and_no_reading(self):
        board = self.board
        self.well()
        board.reads = False
        board.say("rate 50")
        board.say("station 2")
        board.samples(400, 300, 200)
        board.settle()
        board.reads = True
        board.samples(10, 300, 200)
        board.settle()
        board.ask("who", "HTNOD", "log")
        dropped = [line for line in board.lines if line.startswith("$HTNOD,dropped sentences")]
        numbers = [int(line.split(",")[line.split(",").index("G") + 1]) for line in board.lines
                   if line.startswith("$HTXDR,A")]
        gaps = sum(b - a - 1 for a, b in zip(numbers, numbers[1:]))
        self.assertTrue(dropped)
        self.assertGreater(gaps, 0)
        said = board.ask("log", "HTLOG")
        self.assertEqual(said[2], "2")

    def test_an_overrun_is_said(self):
        board = self.board
        self.well()
        board.reads = False
        for _ in range(60):  # answers that wait for room, while the sensor goes on
            board.say("who")
        for i in range(300):
            board.raw(frame(board.number, i % 3, i % 5))
            board.number += 1
        board.reads = True
        board.wait_for("HTNOD", "overrun")


    def load(self, data):
        """The end of loading a packed run: what the node says of it."""
        board = self.board
        board.ask("run begin", "HTNOD", "run", "begun")
        for at in range(0, len(data), 64):
            board.ask(f"run data {at} {data[at:at + 64].hex()}", "HTNOD", "run", "data")
        return board.ask(f"run end {len(data)}", "HTNOD")[1:]

    def no_run(self):
        self.assertEqual(self.board.ask("who", "HTNOD", "node")[3], "no run")
        self.assertEqual(self.board.ask("card", "HTNOD", "refused")[2:], ["card", "no run"])

    def test_a_corrupt_run_is_refused_and_nothing_of_it_is_loaded(self):
        whole = packed(b"")
        for at, said in ((0, ["refused", "run", "no packed run", "beginning"]), (3, ["refused", "run", "version"]),
                         (4, ["refused", "run", "no packed run", "length"]), (20, ["refused", "run", "CRC does not match"]),
                         (len(whole) - 1, ["refused", "run", "CRC does not match"])):
            spoilt = bytearray(whole)
            spoilt[at] ^= 0x10
            self.assertEqual(self.load(bytes(spoilt))[:len(said)], said)
            self.no_run()
        self.assertEqual(self.load(whole[:-3])[:4], ["refused", "run", "no packed run", "length"])
        self.no_run()

    def test_a_run_beyond_its_capacity_is_refused_with_the_limit(self):
        self.assertEqual(self.load(packed(b"", bows=9)), ["refused", "run", "bows", "9", "at most", "3"])
        self.no_run()
        self.assertEqual(self.load(packed(bytes([13]))), ["refused", "run", "stretches of constant section", "13", "at most", "12"])
        self.no_run()
        board = self.board
        board.ask("run begin", "HTNOD", "run", "begun")
        self.assertEqual(board.ask("run data 4090 " + "00" * 10, "HTNOD", "refused")[2:], ["run data", "beyond the end"])
        self.assertIn("4096", board.wait_for("HTNOD", "wanted")[2])


class Tick(unittest.TestCase):
    def test_nothing_happens_where_the_tick_wraps(self):
        """An image whose tick wraps four seconds after its start."""
        board = Board(str(IMAGES / "hangtrue_node_wraps.elf"))
        self.addCleanup(board.close)
        board.wait_for("HTNOD", "start")
        board.samples(5)
        board.wait_for("HTNOD", "slope", "well")
        board.ask("station 1", "HTNOD", "station")
        end = time.monotonic() + 8  # the board's time goes by at most as fast as ours
        while time.monotonic() < end:
            board.samples(25, 300, 200)
            board.settle()
            time.sleep(0.25)
        self.assertFalse([line for line in board.lines if "silent" in line or "dropped" in line])
        self.assertEqual(board.ask("log", "HTLOG")[2], "1")
        board.wait_for("HTNOD", "slope", "silent")  # three seconds after the last sample, as before


class Watchdog(unittest.TestCase):
    def test_a_program_that_hangs_is_started_anew_and_says_so(self):
        board = Board(str(IMAGES / "hangtrue_node_hangs.elf"))
        self.addCleanup(board.close)
        self.assertEqual(board.wait_for("HTNOD")[1], "start")
        self.assertEqual(board.wait_for("HTNOD")[1], "start after the watchdog bit")


if __name__ == "__main__":
    unittest.main()
