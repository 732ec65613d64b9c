#!/usr/bin/env python3
"""Core's own tests, from the host's sources, on the emulated Cortex-M4F; and what the node costs beside its budget.

    core_test.py FOLDER-OF-IMAGES SOURCE-DIRECTORY REFERENCE

REFERENCE is the program of reference.cpp: the same run and readings on the host, in double precision."""

import pathlib
import subprocess
import sys
import unittest

from board import Board

IMAGES = pathlib.Path(sys.argv.pop(1) if len(sys.argv) > 1 else ".")
SOURCE = pathlib.Path(sys.argv.pop(1) if len(sys.argv) > 1 else ".")
REFERENCE = sys.argv.pop(1) if len(sys.argv) > 1 else ""


class Core(unittest.TestCase):
    def test_the_cores_own_tests_pass_on_the_board(self):
        board = Board(str(IMAGES / "hangtrue_node_core_tests.elf"), counts=False)
        self.addCleanup(board.close)
        passed = board.wait_for("HTTST", "passed")
        failed = [line for line in board.lines if line.startswith("$HTTST,failed")]
        self.assertEqual(failed, [])
        self.assertEqual(passed[3:], ["failed", "0"])
        self.assertGreaterEqual(int(passed[2]), 70)

    def test_the_nodes_card_is_the_hosts(self):
        board = Board(str(IMAGES / "hangtrue_node_counts.elf"))
        self.addCleanup(board.close)
        board.wait_for("HTCNT", "moves")
        ours = [line[1:-3].split(",")[1:] for line in board.lines if line.startswith("$HTCNT")]
        said = subprocess.run([REFERENCE], check=True, capture_output=True, text=True).stdout
        theirs = [line.split(",") for line in said.splitlines()]
        shown = ("height pm", "left pm", "left after pm", "steps", "moves")
        ours = [each for each in ours if each[0] in shown]
        self.assertEqual([each[0] for each in ours], [each[0] for each in theirs])
        off = {name: [] for name in shown[:3]}
        for (name, mine), (_, host) in zip(ours, theirs):
            if name in off:
                off[name].append(int(mine) - int(host))
            else:
                self.assertEqual(mine, host)
        # The common height rests on the priors of the supports alone (5 mm each, 2.9 mm together): slopes do not tell it.
        for name, all_off in off.items():
            common = sum(all_off) / len(all_off)
            shape = max(abs(each - common) for each in all_off)
            print(f"{name}: off by {shape / 1e6:.3f} um at most, less the common height, which is off by {abs(common) / 1e6:.2f} um")
            self.assertEqual(len(all_off), 24)
            self.assertLess(shape, 100e3, name)
            self.assertLess(abs(common), 10e6, name)

    def test_the_node_keeps_its_budget(self):
        said = subprocess.run([sys.executable, str(SOURCE / "tools/node-budget"), str(IMAGES)], capture_output=True, text=True)
        print(said.stdout)
        self.assertEqual(said.returncode, 0, said.stdout + said.stderr)
        self.assertIn("none linked", said.stdout)


if __name__ == "__main__":
    unittest.main()
