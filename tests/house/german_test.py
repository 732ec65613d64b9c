"""No sentence that people are shown can be without a German one. Reads the sources.

Usage: german_test.py SOURCE

Looked up  the first format within text(show, ...) or said(show, ...) of firmware-host/say/language.hpp, also as members of report::Figures;
           where one is chosen (a ? "b" : "c"), each of them. Each has a German one with the same places for values and the same spaces at
           its ends; none is there twice; none is left over.
           No command is refused by the daemon without a German reason.
Forgotten  in the rooms of kWhole every text of two words or more is one that is looked up, but for those of kEnglish.
Left       kTerminal lists what speaks to the terminal and to logs alone, which stay English.
"""
import pathlib
import re
import sys

source = pathlib.Path(sys.argv[1])
LITERAL = r'"((?:[^"\\]|\\.)*)"'

# Whole rooms; of say all but what the terminal alone is told (complaint and not_comparable have sentences for the page as well).
kTerminal = {"complaint", "keys", "not_comparable", "plan", "predict", "recheck_view", "sheet_doubts", "table"}
kWhole = [path for path in [*sorted((source / "firmware-host/say").glob("*.cpp")), *sorted((source / "tools/report").rglob("*.cpp"))]
          if path.parent.name not in ("layout", "chart") and not path.name.startswith("german") and path.stem not in kTerminal]
# Texts in files of kWhole that nobody is shown in German: views of the terminal, stable words of other programs, file formats.
kEnglish = {
    r"                       after the moves",
    r"    until the next move a support here is unloaded or over its rating: prop it",
    r" \xC3\x97 10\xE2\x81\xB6 lbf in\xC2\xB2",
    r" lbf in/rad",
    r" now, due ",
    r" of the way",
    r" set aside: ",
    r', when stage \"',
    r': survey at stage \"',
    r"Chi-squared {:.1f} with {} readings kept, p = {:.3f}: {}.\n",
    r"Couples go into bolts and wall: ask those licensed for it before a larger one.\n",
    r"Finished level error   as things are  ",
    r"Hangs free: ",
    r"Heights are less their mean; +- is one sigma of that. Tilt is what shims cure; sag they do not. To come: what the later stages add.",
    r"Learned: the share of the prior variance that the readings took away. 0 % is an assumption, not a measurement.",
    r"Likelier causes:\n",
    r"May the final bolts be tightened?  ",
    r"No move can be advised from this.\n",
    r"No move would make it better.\n",
    r"Nothing has been measured: all that follows is assumed.\n",
    r"SHIM CARD  ",
    r"The fit did not settle: do not rely on what follows.\n",
    r"The readings agree better than their sigmas let them (chi-squared {:.1f} with {} readings): a unit is wrong, or the sigmas of the kit sheet are too wide.",
    r"To settle before the final bolts:\n",
    r"What each survey taught (sigma)\n",
    r"What the supports do, finished: ",
    r"all rough",
    r"couple now",
    r"faces exchanged",
    r"finished, after the moves",
    r"finished, as things are",
    r"force now",
    r"never turned",
    r"not asked",
    r"not run",
    r"not settled",
    r"nothing measured",
    r"now, as fitted",
    r"on the way",
    r"other stage",
    r"out of range",
    r"the fit DOES NOT HOLD",
    r"the fit has nothing to test",
    r"the fit holds",
    r"to come",
    r"too far",
    r"wrong way",
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
    for call in re.finditer(r"\b(?:text|said)\(", text):
        written = arguments(text, call.end())
        if re.match(r"\s*(?:\w+\.)?[\w.]*(?:show|shown)\b", written[0], re.I):
            written = written[1:]  # of say's own; a member of Figures knows how things are shown
        for chosen in re.split(r'[?:](?=(?:[^"]*"[^"]*")*[^"]*$)', written[0] if written else ""):
            literals = re.findall(LITERAL, chosen)
            if literals and re.fullmatch(r"\s*(?:" + LITERAL + r"\s*)+", chosen):
                yield "".join(literals)


def literals(text):
    """Of a source: every text that is written in it, pieces beside each other joined."""
    text = text.replace("'\"'", "' '")
    text = re.sub(r'(?m)^\s*#include.*$|//[^"\n]*(?:"[^"\n]*"[^"\n]*)*$', "", text)
    for run in re.finditer(r"(?:" + LITERAL + r"\s*)+", text):
        yield "".join(re.findall(LITERAL, run.group(0)))


def places(format):
    return sorted(int(each) if each else i for i, each in enumerate(re.findall(r"\{(\d?)\}", format)))


catalog = {}
faults = []
kEntry = r"\{((?:" + LITERAL + r"\s*)+),\s*((?:" + LITERAL + r"\s*)+)\}"
for path in sorted((source / "firmware-host/say").glob("german*.cpp")):
    for english, _, other, _ in re.findall(kEntry, path.read_text()):
        key, value = ("".join(re.findall(LITERAL, each)) for each in (english, other))
        if key in catalog:
            faults.append(f"twice: {key}")
        catalog[key] = value
        if set(places(key)) != set(places(value)):
            faults.append(f"other places: {key} -> {value}")
        if key.startswith(" ") != value.startswith(" ") or key.endswith(" ") != value.endswith(" "):
            faults.append(f"other spaces at its ends: {key!r} -> {value!r}")
        if key.count("|") != value.count("|"):
            faults.append(f"other columns: {key!r} -> {value!r}")

used = set()
kRooms = ["firmware-host/say", "firmware-host/daemon", "tools/report", "tools/hangtrue"]
everything = ""
for room in kRooms:
    for path in sorted((source / room).rglob("*.?pp")):
        text = path.read_text()
        if path.name.startswith("german"):
            continue
        everything += re.sub(r'"\s*\n\s*"', "", text)
        if "say/language.hpp" not in text and "Figures" not in text and "Writer" not in text:
            continue
        for sentence in sentences(text):
            used.add(sentence)
            if sentence not in catalog and re.search(r"[A-Za-z]{2}", re.sub(r"\{.*?\}", "", sentence)):
                faults.append(f"{path.relative_to(source)}: no German for: {sentence}")
for room in ["core", "firmware-host/job", "firmware-host/page"]:
    for path in (source / room).rglob("*.?pp"):
        everything += re.sub(r'"\s*\n\s*"', "", path.read_text())
for key in catalog:
    if key not in used and f'"{key}"' not in everything:
        faults.append(f"nobody says: {key}")

seen = set()
for path in kWhole:
    for text in literals(path.read_text()):
        seen.add(text)
        if re.search(r"[A-Za-z]{2,}[^A-Za-z]*\s[^A-Za-z]*[A-Za-z]{2,}", re.sub(r"\\x..|\{.*?\}", "", text)) and text not in catalog and text not in kEnglish:
            faults.append(f"{path.relative_to(source)}: is not looked up, and is not listed as English: {text}")
for path in sorted((source / "firmware-host/daemon").glob("*.cpp")):
    for reason in re.findall(r'\brefused\((?!"pair")\s*[^,;]*,\s*(?:std::string\()?"[^"]*"', path.read_text()):
        faults.append(f"{path.relative_to(source)}: is refused in English alone, without told(): {' '.join(reason.split())}")
# Words that a lower room has in English until a higher one puts others in.
for file, name in [("firmware-host/page/pairing.hpp", "PairingWords"), ("tools/report/layout/document.hpp", "Words"),
                   ("tools/report/chart/chart.hpp", "PlanView"), ("tools/report/chart/chart.hpp", "Axis")]:
    words = list(literals(re.search(r"struct " + name + r" \{(.*?)\n\};", (source / file).read_text(), re.S).group(1)))
    faults += [f"{file}, {name}: no German for: {each}" for each in words if each not in catalog and each not in ("en", "")]
    if not words:
        faults.append(f"{file}, {name}: has no words")
faults += [f"listed as English, and nobody says it: {each}" for each in sorted(kEnglish - seen)]

if len(used) < 600:
    faults.append(f"only {len(used)} sentences were found in the sources")
for name in sorted(kTerminal):
    if not (source / "firmware-host/say" / f"{name}.cpp").exists():
        faults.append(f"firmware-host/say/{name}.cpp: is listed as the terminal's, and is not there")

print("\n".join(faults) or f"{len(catalog)} German sentences")
sys.exit(1 if faults else 0)
