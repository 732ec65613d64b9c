#!/usr/bin/env python3
"""From raw counts to sentences and readings, and the node's commands, on the emulated board.

    readings_test.py FOLDER-OF-IMAGES"""

import math
import pathlib
import sys
import tempfile
import unittest

from board import BUTTON, RAD_PER_COUNT, Board, checked

IMAGES = pathlib.Path(sys.argv.pop(1) if len(sys.argv) > 1 else ".")
FIRMWARE = str(IMAGES / "hangtrue_node_firmware.elf")
# The calibration in node.cpp: drift of the zero (rad) and of the gain, a degree Celsius, from 20.
ZERO_PER_C, GAIN_PER_C = 2e-6, 5e-5


def angle(counts, temperature_C=20.0):
    warmer = temperature_C - 20
    return (counts * RAD_PER_COUNT - ZERO_PER_C * warmer) / (1 + GAIN_PER_C * warmer)


class Readings(unittest.TestCase):
    def setUp(self):
        self.board = Board(FIRMWARE)
        self.addCleanup(self.board.close)
        self.assertEqual(self.board.wait_for("HTNOD")[1], "start")

    def quads(self, begin):
        fields = self.board.wait_for("HTXDR", *begin)[1:]
        return {name: float(value) for _, value, _, name in zip(*[iter(fields)] * 4)}

    def test_counts_become_compensated_angles_and_every_sentence_has_the_next_number(self):
        board = self.board
        board.samples(60, 40000, -25000, temperature_cC=3500)
        board.settle()
        board.seen = 0
        for number in range(10):
            quads = self.quads("A")
            self.assertEqual(quads["SEQ"], number)
            # Steps of a millionth of a degree, single precision, and two counts of noise.
            self.assertAlmostEqual(quads["ALONG"], math.degrees(angle(40000, 35)), delta=1.2e-5)
            self.assertAlmostEqual(quads["ACROSS"], math.degrees(angle(-25000, 35)), delta=1.2e-5)
            self.assertEqual(self.quads("C"), {"CASE": 35.0})
        for line in board.lines:
            self.assertIsNotNone(checked(line), line)
            self.assertLessEqual(len(line) + 2, 82)

    def test_the_button_makes_a_reading_once_at_each_station(self):
        board = self.board
        for station in (1, 2):
            board.samples(10, 1000 * station, 500, flags=BUTTON)
            board.samples(160, 1000 * station, 500)
            fields = board.wait_for("HTRDG")
            self.assertEqual(fields[1:3], [str(station)] * 2)
            self.assertAlmostEqual(float(fields[3]), math.tan(angle(1000 * station)), delta=1e-7)
            self.assertAlmostEqual(float(fields[5]), angle(500), delta=1e-7)
        board.settle()
        self.assertEqual(sum(line.startswith("$HTRDG") for line in board.lines), 2)
        board.samples(20, 2000, 500)
        self.assertEqual(self.quads("C")["DIAL"], 2)

    def test_no_reading_while_hands_are_on_it(self):
        board = self.board
        board.ask("station 5", "HTNOD", "station")
        for i in range(150):
            board.sample(int(30000 * math.sin(i)), i % 5)
        board.settle()
        self.assertFalse([line for line in board.lines if line.startswith("$HTRDG")])
        board.samples(220, 30, 30)
        self.assertEqual(board.wait_for("HTRDG")[2], "5")

    def test_rate_says_how_often(self):
        board = self.board
        board.ask("rate 50", "HTNOD", "rate")
        board.samples(30)
        board.settle()
        board.ask("rate 1", "HTNOD", "rate")
        fast = sum("ALONG" in line for line in board.lines)
        board.samples(100)
        board.settle()
        board.ask("who", "HTNOD", "log")
        self.assertGreaterEqual(fast, 30)
        self.assertEqual(sum("ALONG" in line for line in board.lines) - fast, 2)

    def test_zero_is_taken_where_settled_and_refused_with_what_stands_against_it(self):
        board = self.board
        board.samples(5, 7000, 7000)
        self.assertEqual(board.ask("zero", "HTNOD", "refused")[2:], ["zero", "slope"])
        self.assertIn("settled", board.wait_for("HTNOD", "wanted")[2])
        board.samples(180, 7000, 7000)
        board.settle()
        board.ask("zero", "HTNOD", "zero", "taken")
        board.ask("station 1", "HTNOD", "station")
        board.samples(200, 7000, 7000)
        self.assertAlmostEqual(float(board.wait_for("HTRDG")[3]), 0, delta=1e-7)

    def test_refusals_name_what_was_found_and_what_would_be_right(self):
        board = self.board
        for said, found, wanted in (("rate 99", "99", "1 to 50"), ("dance", "dance", "rate N"), ("station x", "x", "number"),
                                    ("taken 5", "not in the log", "newest"), ("card", "no run", "packed run"),
                                    ("run end 10", "no beginning", "run begin"), ("y" * 300, "y" * 20, "200 characters")):
            self.assertEqual(board.ask(said, "HTNOD", "refused")[3], found)
            self.assertIn(wanted, board.wait_for("HTNOD", "wanted")[2])

    def test_self_test_sees_the_sensors_own_signal(self):
        board = self.board
        board.samples(5)
        board.settle()
        board.ask("self test", "HTNOD", "self test", "begun")
        board.samples(140, 900, 900)
        for axis in ("slope", "roll"):
            self.assertEqual(board.wait_for("HTNOD", "self test", axis)[3:], ["good", "100000", "100000"])

    def test_self_test_fails_where_the_signal_does_not_come(self):
        board = self.board
        board.samples(5)
        board.settle()
        board.ask("self test", "HTNOD", "self test", "begun")
        for i in range(140):
            board.excited = False  # a sensor that does not move
            board.sample(900 + i % 3, 900 + i % 2)
        self.assertEqual(board.wait_for("HTNOD", "self test", "slope")[3], "failed")


class Lasting(unittest.TestCase):
    def setUp(self):
        self.folder = tempfile.TemporaryDirectory()
        self.addCleanup(self.folder.cleanup)
        self.path = self.folder.name + "/lasting"

    def board(self):
        board = Board(FIRMWARE, self.path)
        self.addCleanup(board.close)
        board.wait_for("HTNOD")
        return board

    def take(self, board, last, kept):
        """As a host: asks, keeps what it has not, says so."""
        board.seen = len(board.lines)
        board.say("log")
        while True:
            fields = board.wait_for()
            if fields[0] == "HTLOG" and int(fields[1]) > last:
                kept.append(fields[1:])
                last = int(fields[1])
            if fields[:3] == ["HTNOD", "log", "handed over"]:
                return last

    def test_readings_outlast_the_power_and_are_handed_over_exactly_once(self):
        board = self.board()
        read = []
        for station in range(1, 4):
            board.ask(f"station {station}", "HTNOD", "station")
            board.samples(190, 100 * station, 50)
            read.append(board.wait_for("HTRDG")[1:])
        board.kill()
        kept = []
        board = self.board()
        last = self.take(board, 0, kept)
        board.kill()  # before the host could say that it has them
        board = self.board()
        last = self.take(board, last, kept)
        self.assertEqual(kept, read)
        board.ask(f"taken {last}", "HTNOD", "taken")
        board.kill()
        board = self.board()
        self.assertEqual(board.ask("log", "HTNOD", "log", "handed over")[3:], ["0", "lost", "0"])


if __name__ == "__main__":
    unittest.main()
