#!/usr/bin/env python3
"""The worked example of README.md does what it says: each command of its console blocks is run, in order, in an empty folder, and must
print what stands below it. A line "..." stands for any lines. What a rehearsal and its book give differs a little from run to run: there
the words must be the same, not the figures.

    readme_test.py README HANGTRUE HANGTRUED"""

import os
import pathlib
import re
import subprocess
import sys
import tempfile

README, PROGRAMS = pathlib.Path(sys.argv[1]), [pathlib.Path(each) for each in sys.argv[2:]]


def steps(text):
    """Command and expected lines, of each "$ ..." in console blocks."""
    for block in re.findall(r"^```console\n(.*?)^```$", text, re.MULTILINE | re.DOTALL):
        for part in re.split(r"^\$ ", block, flags=re.MULTILINE)[1:]:
            lines = part.splitlines()
            command = [lines.pop(0)]
            while command[-1].endswith("\\"):
                command.append(lines.pop(0))
            yield "\n".join(command), [line.rstrip() for line in lines]


def without_figures(lines):
    return [re.sub(r"\d+(?:[./]\d+)?(?: \d/\d)?", "#", line) for line in lines]


def agrees(shown, printed):
    """Whether printed is shown, where "..." is any number of lines."""
    if not shown:
        return not printed
    if shown[0] == "...":
        return any(agrees(shown[1:], printed[skip:]) for skip in range(len(printed) + 1))
    return bool(printed) and shown[0] == printed[0] and agrees(shown[1:], printed[1:])


assert agrees(["a", "...", "c"], ["a", "b", "b", "c"]) and not agrees(["a", "...", "d"], ["a", "b", "c"]) and not agrees(["a"], ["a", "b"])
found = list(steps(README.read_text(encoding="utf-8")))
assert len(found) > 8, "README.md has no worked example"
with tempfile.TemporaryDirectory() as folder:
    environment = os.environ | {"PATH": ":".join(str(each.parent) for each in PROGRAMS) + ":" + os.environ["PATH"], "LC_ALL": "C.UTF-8", "HOME": folder}
    for command, shown in found:
        done = subprocess.run(["bash", "-c", command], cwd=folder, env=environment, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
                              stderr=subprocess.STDOUT, text=True, check=False)
        printed = [line.rstrip() for line in done.stdout.splitlines()]
        if "rehearse" in command or "JOB" in command:
            alike = agrees(without_figures(shown), without_figures(printed))
        else:
            alike = agrees(shown, printed)
        if not alike:
            sys.exit(f"README.md: $ {command}\nprints\n" + "\n".join(printed) + "\nbut README.md shows\n" + "\n".join(shown))
        print(f"ok  $ {command}", flush=True)
