"""Every sentence that is looked up for its German one has one, none is left over, and the places for values agree. Reads the sources.

Usage: german_test.py SOURCE

A sentence is the first format within text(show, ...) or said(show, ...) of firmware-host/say/language.hpp; where one is chosen (a ? "b" : "c"),
each of them. Words that come from a table (channels, edges, verdicts, cautions) stand somewhere in the sources.
"""
import pathlib
import re
import sys

source = pathlib.Path(sys.argv[1])
LITERAL = r'"((?:[^"\\]|\\.)*)"'

# What is said in English alone so far, with the room that says it: whole sentences, never mixed ones.
kLeft = {
    "firmware-host/say": {"checks", "complaint", "history", "keys", "not_comparable", "plan", "predict", "recheck", "recheck_view", "sheet_changes",
                          "sheet_doubts", "table"},
    "tools/report": {"as_built", "recheck"},
}


def arguments(text, start):
    """Of a call whose '(' ends at start: each argument as it is written."""
    depth, quoted, current, found = 1, False, "", []
    i = start
    while depth:
        c = text[i]
        if quoted:
            current += c
            if c == "\\":
                i += 1
                current += text[i]
            quoted = c != '"'
        elif c == "," and depth == 1:
            found.append(current)
            current = ""
        else:
            depth += (c in "([{") - (c in ")]}")
            quoted = c == '"'
            if depth:
                current += c
        i += 1
    return found + [current]


def sentences(text):
    """Of a source: what it looks up."""
    for call in re.finditer(r"\b(?:say::)?(?:text|said)\((?=\s*(?:of\.)?(?:[\w.]*show\b))", text):
        written = arguments(text, call.end())
        if len(written) < 2:
            continue
        for chosen in re.split(r'[?:](?=(?:[^"]*"[^"]*")*[^"]*$)', written[1]):
            literals = re.findall(LITERAL, chosen)
            if literals:
                yield "".join(literals)


def places(format):
    return sorted(int(each) if each else i for i, each in enumerate(re.findall(r"\{(\d?)\}", format)))


catalog = {}
faults = []
kEntry = r"\{((?:" + LITERAL + r"\s*)+),\s*((?:" + LITERAL + r"\s*)+)\}"
for english, _, other, _ in re.findall(kEntry, (source / "firmware-host/say/german.cpp").read_text()):
    key, value = ("".join(re.findall(LITERAL, each)) for each in (english, other))
    if key in catalog:
        faults.append(f"twice: {key}")
    catalog[key] = value
    if places(key) != places(value):
        faults.append(f"other places: {key} -> {value}")
    if key.startswith(" ") != value.startswith(" ") or key.endswith(" ") != value.endswith(" "):
        faults.append(f"other spaces at its ends: {key!r} -> {value!r}")

used = set()
kRooms = ["firmware-host/say", "firmware-host/daemon", "tools/report"]
everything = ""
for room in kRooms:
    for path in sorted((source / room).rglob("*.?pp")):
        text = path.read_text()
        if path.name != "german.cpp":
            everything += re.sub(r'"\s*\n\s*"', "", text)
        if "say/language.hpp" not in text or path.name == "german.cpp":
            continue
        for sentence in sentences(text):
            used.add(sentence)
            if sentence not in catalog:
                faults.append(f"{path.relative_to(source)}: no German for: {sentence}")
for path in (source / "core").rglob("*.?pp"):
    everything += path.read_text()
for key in catalog:
    if key not in used and f'"{key}"' not in everything:
        faults.append(f"nobody says: {key}")

if len(used) < 150:
    faults.append(f"only {len(used)} sentences were found in the sources")
for room, names in kLeft.items():
    for name in names:
        where = [*(source / room).glob(f"{name}.cpp"), *(source / room / name).glob("*.cpp")]
        if not where:
            faults.append(f"{room}/{name}: is listed as left in English, and is not there")

print("\n".join(faults) or f"{len(catalog)} German sentences")
sys.exit(1 if faults else 0)
