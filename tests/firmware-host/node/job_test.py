#!/usr/bin/env python3
"""hangtrued reads the emulated node through a pseudo-terminal as any other instrument, from raw counts to the shim card.

    job_test.py FOLDER-OF-IMAGES FOLDER-OF-PROGRAMS SOURCE-DIRECTORY"""

import json
import pathlib
import subprocess
import sys
import tempfile
import unittest

from job import Daemon, Node, Truth, walk, write_kit

IMAGES = pathlib.Path(sys.argv.pop(1) if len(sys.argv) > 1 else ".")
PROGRAMS = pathlib.Path(sys.argv.pop(1) if len(sys.argv) > 1 else ".")
SOURCE = pathlib.Path(sys.argv.pop(1) if len(sys.argv) > 1 else ".")
COMMAND = str(PROGRAMS / "tools/hangtrue")
STAGE = "bolted"


class Job(unittest.TestCase):
    def setUp(self):
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.folder = pathlib.Path(folder.name)
        self.run_sheet, self.book = self.folder / "run.toml", self.folder / "job.levelbook"
        text = (SOURCE / "data/runs/gallery-display-shelf.toml").read_text()
        self.text = text.replace('every = "300 mm"', 'every = "600 mm"')
        self.run_sheet.write_text(self.text)
        self.node = Node(IMAGES, folder.name)
        self.node.start()
        self.addCleanup(self.node.cut_power)
        self.kit = write_kit(folder.name, self.node.port, "0.4 s")

    def daemon(self):
        daemon = Daemon(PROGRAMS, self.run_sheet, self.kit, self.book, STAGE)
        self.addCleanup(daemon.kill)
        daemon.until("status", "node: ", "speaks")
        return daemon

    def hangtrue(self, *arguments):
        said = subprocess.run([COMMAND, *map(str, arguments)], capture_output=True, text=True)
        self.assertLessEqual(said.returncode, 1, said.stderr)
        return said.stdout

    def test_from_raw_counts_to_the_shim_card(self):
        truth = Truth(COMMAND, self.text, STAGE, "east rod=-3 mm", self.folder)
        daemon = self.daemon()
        walk(self.node, daemon, truth)
        daemon.ask("card", "|")
        daemon.ask("done", "done ")
        card = json.loads(self.hangtrue("shims", self.run_sheet, "--book", self.book, "--survey", "1", "--json"))
        # Four of the card's own sigmas, and 0.1 mm, as in tests/end_to_end.
        self.assertLess(abs(card["level_error_before_m"] - truth.level_error_m),
                        4 * card["level_error_before_sigma_m"] + 0.1e-3)
        self.assertGreater(truth.level_error_m, 2e-3)
        self.assertLess(card["level_error_after_m"], 2e-3)
        self.assertEqual(card["hold_point"], "shim first", card["doubts"])
        self.assertEqual(card["set_aside"], [])


if __name__ == "__main__":
    unittest.main()
