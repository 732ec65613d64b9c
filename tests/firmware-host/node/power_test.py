#!/usr/bin/env python3
"""The power goes at random instants (fixed seeds): what was said to be read is there at the next start, once.

    power_test.py FOLDER-OF-IMAGES"""

import pathlib
import random
import sys
import tempfile
import unittest

from board import Board

IMAGES = pathlib.Path(sys.argv.pop(1) if len(sys.argv) > 1 else ".")
FIRMWARE = str(IMAGES / "hangtrue_node_firmware.elf")
# log.hpp: two marks of 16 bytes, then entries of 32, the CRC last; entry n in slot n of 1918.
FIRST_ENTRY, ENTRY = 32, 32


class Power(unittest.TestCase):
    def setUp(self):
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.path = folder.name + "/lasting"

    def start(self):
        board = Board(FIRMWARE, self.path)
        self.addCleanup(board.close)
        self.assertEqual(board.wait_for("HTNOD")[1], "start")
        return board

    def handed_over(self, board):
        board.ask("log", "HTNOD", "log", "handed over")
        return [line[1:-3].split(",")[1:] for line in board.lines if line.startswith("$HTLOG")]

    def test_killed_at_random_instants_it_loses_nothing_that_it_said(self):
        draw = random.Random(20260914)
        said = []
        for turn in range(4):
            board = self.start()
            board.ask(f"station {turn + 1}", "HTNOD", "station")
            board.samples(105 + draw.randrange(40), 50 * turn, 20)
            board.kill()
            said += [line[1:-3].split(",")[1:] for line in board.lines if line.startswith("$HTRDG")]
        board = self.start()
        kept = self.handed_over(board)
        self.assertEqual([entry for entry in kept if entry in said], said)
        self.assertLessEqual(len(kept) - len(said), 4)  # one a cut: kept, but not said any more
        self.assertEqual([int(entry[0]) for entry in kept], list(range(1, len(kept) + 1)))

    def test_an_entry_whose_writing_was_cut_is_said_once_and_the_others_are_there(self):
        board = self.start()
        for station in (1, 2):
            board.ask(f"station {station}", "HTNOD", "station")
            board.samples(150, 100, 20)
            board.wait_for("HTRDG")
        board.kill()
        with open(self.path, "r+b") as memory:  # as the cut leaves it: all but the last bytes written
            memory.seek(FIRST_ENTRY + 2 * ENTRY + ENTRY - 2)
            memory.write(b"\x5a\xa5")
        board = self.start()
        self.assertEqual(board.wait_for("HTNOD", "log", "unfinished")[3], "1")
        self.assertEqual([entry[0] for entry in self.handed_over(board)], ["1"])
        board.kill()
        board = self.start()
        board.ask("who", "HTNOD", "log")
        self.assertFalse([line for line in board.lines if "unfinished" in line])


if __name__ == "__main__":
    unittest.main()
