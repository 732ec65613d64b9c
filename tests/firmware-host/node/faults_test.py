#!/usr/bin/env python3
"""What can go wrong around a node, on the emulated board: each is said, and none ends it.

    faults_test.py FOLDER-OF-IMAGES"""

import pathlib
import random
import sys
import unittest

from board import FAULT, Board, frame

IMAGES = pathlib.Path(sys.argv.pop(1) if len(sys.argv) > 1 else ".")
FIRMWARE = str(IMAGES / "hangtrue_node_firmware.elf")
FULL = 8388607


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


class Watchdog(unittest.TestCase):
    def test_a_program_that_hangs_is_started_anew_and_says_so(self):
        board = Board(str(IMAGES / "hangtrue_node_hangs.elf"))
        self.addCleanup(board.close)
        self.assertEqual(board.wait_for("HTNOD")[1], "start")
        self.assertEqual(board.wait_for("HTNOD")[1], "start after the watchdog bit")


if __name__ == "__main__":
    unittest.main()
