#!/usr/bin/env python3
"""Start and memory of command and daemon of a build, as a board would have them but for the emulator's own share.

    board-needs.py FOLDER-OF-THE-BUILD [EMULATOR ARGUMENT ...]

With an emulator both figures are upper bounds: it translates while it runs, and its own memory counts."""
import pathlib
import resource
import subprocess
import sys
import tempfile
import time

TOP = pathlib.Path(__file__).resolve().parent.parent.parent
RUN, KIT = TOP / "data/runs/reading-room-bridge-shelf.toml", TOP / "data/kits/reading-room.toml"


def command(build, emulator):
    begun = time.monotonic()
    subprocess.run([*emulator, build / "tools/hangtrue", "predict", RUN, "--json"], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    return time.monotonic() - begun, resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss


def daemon(build, emulator):
    """Until it is ready with its page; no instrument is there, which it says and waits for."""
    with tempfile.TemporaryDirectory() as folder:
        begun = time.monotonic()
        process = subprocess.Popen([*emulator, build / "firmware-host/hangtrued", RUN, KIT, "--book", pathlib.Path(folder) / "b.levelbook",
                                    "--page", "127.0.0.1:0"], stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
        try:
            for line in process.stdout:
                if line.startswith("ready "):
                    break
            else:
                sys.exit("hangtrued ended before it was ready")
            taken = time.monotonic() - begun
            status = pathlib.Path(f"/proc/{process.pid}/status").read_text()
            return taken, int(status.split("VmHWM:")[1].split()[0])
        finally:
            process.terminate()
            process.wait()


def main():
    build, emulator = pathlib.Path(sys.argv[1]), sys.argv[2:]
    where = "under the emulator" if emulator else "on this machine"
    for name, (taken_s, memory_kB) in (("predict", command(build, emulator)), ("hangtrued", daemon(build, emulator))):
        print(f"{name:<12}{'done' if name == 'predict' else 'ready'} after {taken_s:.2f} s, {memory_kB / 1024:.0f} MB at most, {where}")


if __name__ == "__main__":
    main()
