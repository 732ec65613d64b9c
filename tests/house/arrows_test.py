#!/usr/bin/env python3
"""The house as the code's own includes draw it: no arrow goes upwards, no includes run in a circle.

    arrows_test.py SOURCE-DIRECTORY

A room is a folder of sources. Each may include itself and the rooms that MAY names for it; DEVELOPERS.md says why."""

import pathlib
import re
import sys

CORE = ["core/quantity", "core/beam", "core/survey", "core/fit", "core/adjust"]
BELOW_JOB = CORE + ["core/change", "firmware-host/sheet", "firmware-host/book"]
BELOW_DAEMON = BELOW_JOB + ["firmware-host/job", "firmware-host/say", "firmware-host/json", "firmware-host/page"]
ALL_BELOW_TOOLS = BELOW_DAEMON + ["firmware-host/wire", "firmware-host/serial", "firmware-host/broker", "firmware-host/daemon", "firmware-host/version"]
MAY = {
    "core/quantity": [],
    "core/beam": CORE[:1],
    "core/survey": CORE[:2],
    "core/fit": CORE[:3],
    "core/adjust": CORE[:4],
    "core/change": CORE[:4],
    "core/c": CORE[:4],
    "firmware-host/wire": CORE[:1],
    "firmware-host/serial": CORE[:3] + ["firmware-host/wire"],
    "firmware-host/sheet": CORE,
    "firmware-host/book": CORE + ["firmware-host/sheet"],
    "firmware-host/version": ["firmware-host/book"],
    "firmware-host/job": BELOW_JOB,
    "firmware-host/say": BELOW_JOB + ["firmware-host/job"],
    "firmware-host/json": BELOW_JOB + ["firmware-host/job", "firmware-host/say"],
    "firmware-host/page": BELOW_DAEMON,
    "firmware-host/broker": CORE[:1],
    "firmware-host/node": CORE + ["firmware-host/wire"],
    "firmware-host/daemon": BELOW_DAEMON + ["firmware-host/wire", "firmware-host/serial", "firmware-host/broker", "firmware-host/version"],
    "tools/rehearsal": ALL_BELOW_TOOLS,
    "tools/report": BELOW_DAEMON,
    "tools/docs": ALL_BELOW_TOOLS + ["tools/hangtrue"],
    "tools/hangtrue": ALL_BELOW_TOOLS + ["firmware-host/node", "tools/rehearsal", "tools/report"],  # node: it packs runs for one
}
INCLUDE = re.compile(r'^\s*#\s*include\s+"([^"]+)"', re.MULTILINE)


def room_of(path):
    return "/".join(path.split("/")[:2])


def included_by(source):
    """Every source file below core, firmware-host and tools, with the project's own files that it includes."""
    graph = {}
    for top in ("core", "firmware-host", "tools"):
        for file in sorted((source / top).rglob("*.[ch]pp")):
            text = file.read_text(encoding="utf-8")
            graph[file.relative_to(source).as_posix()] = [
                name for name in INCLUDE.findall(text) if (source / name).is_file()]
    return graph


def upward(graph):
    for file, names in graph.items():
        room = room_of(file)
        if room not in MAY:
            yield f"{file}: the room {room} is not among those of this test; write down what it may include"
            continue
        for name in names:
            if room_of(name) != room and room_of(name) not in MAY[room]:
                yield f"{file} includes {name}: {room} may include {', '.join(MAY[room]) or 'nothing'}"


def circles(graph):
    done, path = set(), []

    def follow(file):
        if file in path:
            return [" -> ".join(path[path.index(file):] + [file])]
        if file in done:
            return []
        path.append(file)
        found = [circle for name in graph.get(file, []) for circle in follow(name)]
        path.pop()
        done.add(file)
        return found

    return [circle for file in graph for circle in follow(file)]


def main():
    graph = included_by(pathlib.Path(sys.argv[1]))
    faults = list(upward(graph)) + circles(graph)
    for fault in faults:
        print(fault)
    arrows = {(room_of(a), room_of(b)) for a, names in graph.items() for b in names if room_of(a) != room_of(b)}
    print(f"{len(graph)} files, {len(arrows)} arrows between rooms, {len(faults)} faults")
    return 1 if faults or not graph else 0


if __name__ == "__main__":
    sys.exit(main())
