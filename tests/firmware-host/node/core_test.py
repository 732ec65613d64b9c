#!/usr/bin/env python3
"""Core's own tests, from the host's sources, on the emulated Cortex-M4F; and what the node costs beside its budget.

    core_test.py FOLDER-OF-IMAGES SOURCE-DIRECTORY"""

import pathlib
import subprocess
import sys
import unittest

from board import Board

IMAGES = pathlib.Path(sys.argv.pop(1) if len(sys.argv) > 1 else ".")
SOURCE = pathlib.Path(sys.argv.pop(1) if len(sys.argv) > 1 else ".")


class Core(unittest.TestCase):
    def test_the_cores_own_tests_pass_on_the_board(self):
        board = Board(str(IMAGES / "hangtrue_node_core_tests.elf"), counts=False)
        self.addCleanup(board.close)
        passed = board.wait_for("HTTST", "passed")
        failed = [line for line in board.lines if line.startswith("$HTTST,failed")]
        self.assertEqual(failed, [])
        self.assertEqual(passed[3:], ["failed", "0"])
        self.assertGreaterEqual(int(passed[2]), 70)

    def test_the_node_keeps_its_budget(self):
        said = subprocess.run([sys.executable, str(SOURCE / "tools/node-budget"), str(IMAGES)], capture_output=True, text=True)
        print(said.stdout)
        self.assertEqual(said.returncode, 0, said.stdout + said.stderr)
        self.assertIn("none linked", said.stdout)


if __name__ == "__main__":
    unittest.main()
