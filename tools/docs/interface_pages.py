#!/usr/bin/env python3
"""Manual pages hangtrue-json(7) and hangtrue-readings(5), from data/interfaces.md.

    tools/docs/interface_pages.py [TO]        without TO into data/man

The cautions are those of hangtrue(1), which write_docs writes."""

import pathlib
import re
import sys

SOURCE = pathlib.Path(__file__).resolve().parents[2]


def escaped(words):
    """Markdown's marks to those of man(7)."""
    words = words.replace("\\", "\\e").replace("-", "\\-")
    words = re.sub(r"\*\*(.+?)\*\*", r"\\fB\1\\fR", words)
    words = re.sub(r"`(.+?)`", r"\\fB\1\\fR", words)
    words = re.sub(r"(?<![\w*])\*(\S[^*]*?)\*(?!\w)", r"\\fI\1\\fR", words)
    return "\\&" + words if words.startswith((".", "'")) else words


def row_lines(cells, heads):
    """A row of a table: what is named, of which kind, and what it means."""
    name, *middle, meaning = cells
    before = ", ".join(cell for head, cell in zip(heads[1:], middle) if cell and head in ("type", "unit"))
    after = "".join(f". {head.capitalize()}: {cell}" for head, cell in zip(heads[1:], middle) if cell and head not in ("type", "unit"))
    yield ".TP"
    yield escaped(name) if name.startswith("`") else f"\\fB{escaped(name)}\\fR"
    yield escaped((before + ": " if before else "") + meaning + after)


def page_lines(text):
    """Headings, paragraphs, lists and tables."""
    heads, paragraph = None, []

    def flushed():
        if paragraph:
            yield escaped(" ".join(paragraph))
            paragraph.clear()

    for line in [*text.splitlines(), ""]:
        if line.startswith("|"):
            yield from flushed()
            cells = [cell.strip() for cell in line.split("|")[1:-1]]
            if heads is None:
                heads = cells
            elif not set(line) <= set("| -"):
                yield from row_lines(cells, heads)
            continue
        heads = None
        item = re.match(r"(-|\d+\.) (.*)", line)
        if line.startswith("## "):
            yield from flushed()
            heading = line.removeprefix("## ").replace('"', "")
            yield '.SH "' + escaped(heading.replace("`", "") if "`" in heading else heading.upper()) + '"'
        elif item:
            yield from flushed()
            yield ".IP " + ("\\(bu" if item.group(1) == "-" else item.group(1)) + " 4"
            paragraph.append(item.group(2))
        elif not line:
            yield from flushed()
            yield ".PP"
        else:
            paragraph.append(line.strip())
    yield from flushed()


def written(name, section, says, text, see, caution, version):
    dashed = name.replace("-", "\\-")
    lines = [".\\\" Written by tools/docs; change what it is written from.",
             f'.TH {dashed.upper()} {section} "" "{version}" "hangtrue"', ".nh", ".SH NAME", f"{dashed} \\- {says}", *page_lines(text),
             ".SH CAUTION", caution, ".SH SEE ALSO", see.replace("-", "\\-")]
    # No paragraph before a heading or an item, none twice.
    kept = [line for i, line in enumerate(lines)
            if line != ".PP" or (i + 1 < len(lines) and not lines[i + 1].startswith((".SH", ".PP", ".TP", ".IP")) and not lines[i - 1].startswith(".SH"))]
    return "\n".join(kept) + "\n"


def main():
    to = pathlib.Path(sys.argv[1]) if len(sys.argv) > 1 else SOURCE / "data/man"
    to.mkdir(parents=True, exist_ok=True)
    first = (SOURCE / "data/man/hangtrue.1").read_text(encoding="utf-8")
    caution = re.search(r"\.SH CAUTION\n(.*?)\n\.SH", first, re.DOTALL).group(1)
    version = re.search(r'^\.TH .*? "" "(.*?)"', first, re.MULTILINE).group(1)
    page = (SOURCE / "data/interfaces.md").read_text(encoding="utf-8")
    beginning, *parts = re.split(r"(?m)^(?=## )", page)
    beginning = "## DESCRIPTION\n" + beginning.split("\n", 1)[1]
    readings = next(part for part in parts if part.startswith("## Readings CSV")).replace("## Readings CSV", "## DESCRIPTION")
    meant = next(part for part in parts if part.startswith("## How the numbers"))
    others = [part for part in parts if not part.startswith(("## Readings CSV", "## How the numbers"))]
    (to / "hangtrue-json.7").write_text(
        written("hangtrue-json", 7, "what hangtrue prints with --json, and its exit codes", beginning + "".join([*others, meant]),
                "hangtrue(1), hangtrued(8), hangtrue-readings(5), hangtrue-run-sheet(5), hangtrue-kit-sheet(5)", caution, version),
        encoding="utf-8")
    (to / "hangtrue-readings.5").write_text(
        written("hangtrue-readings", 5, "readings of a survey as CSV", readings + meant,
                "hangtrue(1), hangtrue-json(7), hangtrue-run-sheet(5), hangtrue-kit-sheet(5)", caution, version), encoding="utf-8")


if __name__ == "__main__":
    main()
