#!/usr/bin/env python3
"""hangtrued reads the emulated node through a pseudo-terminal as any other instrument, from raw counts to the shim card; and what the
node kept while nobody was there enters the level book exactly once.

    job_test.py FOLDER-OF-IMAGES FOLDER-OF-PROGRAMS SOURCE-DIRECTORY"""

import csv
import io
import json
import pathlib
import shutil
import subprocess
import sys
import tempfile
import time
import unittest

from board import PATIENCE_S
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

    def exported(self):
        to = self.folder / "readings.csv"
        to.unlink(missing_ok=True)
        self.hangtrue("export", self.book, "--survey", "1", "-o", to)
        return list(csv.DictReader(io.StringIO(to.read_text())))

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

    def kept_by(self, stations):
        """The node alone takes readings at so many more stations."""
        for _ in range(stations):
            self.node.press()
            begin = self.node.board.number
            end = time.monotonic() + PATIENCE_S
            while self.node.board.number - begin < 250 and time.monotonic() < end:
                time.sleep(0.01)

    def test_what_it_kept_enters_the_book_exactly_once(self):
        self.node.sees = (0.4e-3, -0.2e-3)
        self.kept_by(3)
        self.node.cut_power()
        never_told = self.folder / "before"
        shutil.copy(self.folder / "lasting", never_told)

        self.node.start()
        daemon = self.daemon()
        self.assertEqual(daemon.ask("take kept", "taken "), "taken 6 readings that were kept, at 3 stops")
        self.assertEqual(daemon.ask("take kept", "taken "), "taken 0 readings that were kept, at 0 stops")
        daemon.kill()
        rows = self.exported()
        self.assertEqual([row["channel"] for row in rows], ["slope", "roll"] * 3)
        self.assertEqual([row["at"] for row in rows], ["0 m"] * 2 + ["0.6 m"] * 2 + ["1.2 m"] * 2)

        # The power went before the node had heard that all was taken; and the daemon was started again.
        self.node.cut_power()
        shutil.copy(never_told, self.folder / "lasting")
        self.node.start()
        daemon = self.daemon()
        self.assertEqual(daemon.ask("take kept", "taken "),
                         "taken 0 readings that were kept, at 0 stops; 3 stops were in the book already")
        self.kept_by(1)  # the button counts from 1 again, and what it reads is another entry
        self.assertEqual(daemon.ask("take kept", "taken "), "taken 2 readings that were kept, at 1 stops")
        daemon.ask("done", "done ")
        self.assertEqual(len(self.exported()), 8)
        self.assertIn("whole", self.hangtrue("audit", self.book))


if __name__ == "__main__":
    unittest.main()
