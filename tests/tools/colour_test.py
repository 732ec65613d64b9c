#!/usr/bin/env python3
"""Colour on a terminal, and only there: hangtrue on a pseudo-terminal and in a pipe says the same words.

    colour_test.py HANGTRUE DATA

Source: no-color.org (NO_COLOR, where it is not empty); SGR of ECMA-48, section 8.3.117."""

import os
import pathlib
import pty
import re
import subprocess
import sys
import tempfile
import unittest

HANGTRUE, DATA = sys.argv[1], pathlib.Path(sys.argv[2])
SHELF = str(DATA / "runs" / "reading-room-bridge-shelf.toml")
KIT = str(DATA / "kits" / "reading-room.toml")
BOOK = str(DATA / "books" / "schema-4.levelbook")
SGR = re.compile(r"\x1b\[[0-9;]*m")
COLOURS = {"green": "\x1b[1;32m", "yellow": "\x1b[1;33m", "red": "\x1b[1;31m"}


def environment(**more):
    plain = {key: value for key, value in os.environ.items() if key not in ("TERM", "NO_COLOR")}
    return {**plain, **more}


def in_pipe(*arguments, **more):
    return subprocess.run([HANGTRUE, *arguments], capture_output=True, text=True, env=environment(TERM="xterm", **more), check=False).stdout


def on_terminal(*arguments, **more):
    """What standard output brought, where it was a terminal."""
    ours, theirs = pty.openpty()
    child = subprocess.Popen([HANGTRUE, *arguments], stdin=subprocess.DEVNULL, stdout=theirs, stderr=subprocess.DEVNULL,
                             env=environment(**more))
    os.close(theirs)
    said = b""
    while True:
        try:
            chunk = os.read(ours, 65536)
        except OSError:  # the other side has gone
            break
        if not chunk:
            break
        said += chunk
    os.close(ours)
    child.wait()
    return said.decode().replace("\r\n", "\n")


def sooner(text):
    """The same job in seconds: fewer stations, a kit that settles sooner."""
    text = text.replace('{ every = "300 mm" }', '{ every = "700 mm" }').replace('every = "100 ms"', 'every = "20 ms"')
    return re.sub(r'window = "[12] s"', 'window = "0.4 s"', text)


class Colour(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.place = tempfile.TemporaryDirectory()
        place = pathlib.Path(cls.place.name)
        for source, to in ((SHELF, "run.toml"), (KIT, "kit.toml")):
            (place / to).write_text(sooner(pathlib.Path(source).read_text(encoding="utf-8")), encoding="utf-8")
        book = str(place / "two.levelbook")
        subprocess.run([HANGTRUE, "rehearse", str(place / "run.toml"), str(place / "kit.toml"), "--stage", "second bolted", "--seed", "7",
                        "--rate", "100", "--book", book, "--later", "365 days", "--sinks", "east rod=2 mm", "--json"],
                       check=True, capture_output=True)
        cls.recheck = ("recheck", "--book", book, "--from", "1", "--to", "2")

    @classmethod
    def tearDownClass(cls):
        cls.place.cleanup()

    def setUp(self):
        self.folder = tempfile.TemporaryDirectory()
        self.wrong = pathlib.Path(self.folder.name) / "wrong.toml"
        text = pathlib.Path(SHELF).read_text(encoding="utf-8")
        self.wrong.write_text(text.replace('length = "', 'lenght = "', 1), encoding="utf-8")
        self.doubtful = pathlib.Path(self.folder.name) / "doubtful.toml"
        self.doubtful.write_text(text.replace('"210 GPa"', '"310 GPa"'), encoding="utf-8")

    def tearDown(self):
        self.folder.cleanup()

    def test_same_words_with_the_verdict_in_its_colour(self):
        survey = ("--book", BOOK, "--survey", "1")
        for arguments, colour, words in (
                (("predict", SHELF), "green", "YES, as written."),
                (("fit", *survey), "red", "the fit DOES NOT HOLD"),
                (("shims", *survey), None, None),
                (self.recheck, None, None),
                (("check", SHELF), "green", "Nothing is wrong"),
                (("check", str(self.wrong)), "red", str(self.wrong)),
                (("check", str(self.doubtful)), "yellow", str(self.doubtful))):
            with self.subTest(arguments=arguments):
                plain, painted = in_pipe(*arguments), on_terminal(*arguments, TERM="xterm-256color")
                self.assertNotEqual(plain, "")
                self.assertNotIn("\x1b", plain)
                self.assertEqual(SGR.sub("", painted), plain)
                self.assertIn("\x1b[1;", painted)
                if colour:
                    self.assertIn(COLOURS[colour] + words, painted)
                for line in painted.split("\n"):  # a pager may begin anywhere
                    self.assertEqual(len(re.findall(r"\x1b\[1;3[123]m", line)), line.count("\x1b[0m"), line)

    def test_cautions_of_a_card_and_of_a_recheck_stand_out(self):
        card = on_terminal("shims", "--book", BOOK, "--survey", "1", TERM="xterm")
        self.assertIn(COLOURS["yellow"] + "CAUTION", card)
        answer = re.search(r"tightened\?  (\x1b\[1;3[123]m)([A-Z ]+)\x1b\[0m", card)
        self.assertTrue(answer, card[:400])
        tones = {"READY TO BOLT": "green", "SHIM FIRST": "yellow", "READ AGAIN": "yellow", "SHIMS CANNOT": "red"}
        self.assertEqual(answer[1], COLOURS[tones[answer[2]]])
        recheck = on_terminal(*self.recheck, TERM="xterm")
        self.assertRegex(recheck, r"What moved\?  \x1b\[1;3[13]mMOVED")
        self.assertIn(COLOURS["yellow"] + "This speaks of movement", recheck)

    def test_none_where_it_is_not_wanted_or_not_there(self):
        for more in ({"TERM": "xterm", "NO_COLOR": "1"}, {"TERM": "dumb"}, {"TERM": ""}, {}):
            with self.subTest(more=more):
                said = on_terminal("predict", SHELF, **more)
                self.assertIn("YES, as written.", said)
                self.assertNotIn("\x1b", said)
        self.assertNotIn("\x1b", on_terminal("predict", SHELF, "--json", TERM="xterm"))
        self.assertIn("\x1b", on_terminal("predict", SHELF, TERM="xterm", NO_COLOR=""))


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1])
