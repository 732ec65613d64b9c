#!/usr/bin/env python3
"""hangtrue new at a terminal: what no option says is asked, an answer that cannot be used is asked for again.

    questions_test.py HANGTRUE"""

import os
import pathlib
import pty
import subprocess
import sys
import tempfile
import tomllib
import unittest

HANGTRUE = sys.argv[1]


def answered(arguments, answers):
    """Standard input is a terminal, on which those lines are typed; exit code and standard error."""
    ours, theirs = pty.openpty()
    os.write(ours, "".join(each + "\n" for each in answers).encode())
    done = subprocess.run([HANGTRUE, "new", *arguments], stdin=theirs, capture_output=True, text=True)
    os.close(theirs)
    os.close(ours)
    return done.returncode, done.stderr


class Questions(unittest.TestCase):
    def setUp(self):
        self.folder = tempfile.TemporaryDirectory()
        self.file = pathlib.Path(self.folder.name) / "sheet.toml"

    def tearDown(self):
        self.folder.cleanup()

    def test_run_is_asked_but_for_what_options_say(self):
        # Called, shown, how long (not understood, then right), how wide, what carries, left, right, mass now, mass later.
        answers = ["Hall shelf", "", "4200", "4200 mm", "", "timber", "seat", "bracket", "70 kg", ""]
        code, said = answered(["run", "--show", "metric", "-o", str(self.file)], [answers[0], *answers[2:]])
        self.assertEqual(code, 0, said)
        self.assertIn("a number without a unit", said)
        self.assertNotIn("metric or imperial units?", said)
        sheet = tomllib.loads(self.file.read_text(encoding="utf-8"))
        self.assertEqual((sheet["title"], sheet["length"]), ("Hall shelf", "4200 mm"))
        self.assertEqual([each["name"] for each in sheet["support"][:2]], ["left seat", "right bracket"])
        self.assertEqual(sheet["load"][0]["mass"], "70 kg")
        self.assertIn("timber", sheet["material"])
        self.assertEqual(subprocess.run([HANGTRUE, "check", self.file], check=False).returncode, 0)

    def test_what_goes_with_a_later_answer_is_asked_there(self):
        # A rod on the left, then on the right too, which would leave the run free to roll.
        code, said = answered(["run", "-o", str(self.file)], ["", "", "", "", "", "rod", "rod", "bracket", "", ""])
        self.assertEqual(code, 0, said)
        self.assertIn("free to roll", said)
        sheet = tomllib.loads(self.file.read_text(encoding="utf-8"))
        self.assertEqual([each["name"] for each in sheet["support"][:2]], ["left rod", "right bracket"])

    def test_kit_is_asked_and_the_end_of_the_answers_said(self):
        code, said = answered(["kit", "-o", str(self.file)], ["modbus", "/dev/one", "none", ""])
        self.assertEqual(code, 0, said)
        self.assertEqual(len(tomllib.loads(self.file.read_text(encoding="utf-8"))["instrument"]), 1)
        code, said = answered(["kit"], ["modbus", "\x04"])  # control-D: the end
        self.assertEqual(code, 2)
        self.assertIn("standard input ended", said)


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1])
