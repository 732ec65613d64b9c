"""A serial line with an inclinometer on it that says another slope in each sentence, at a steady pace.

    python3 wire.py RATE STEP

Prints the path of its terminal; then for each sentence "N SECONDS": it said N * STEP mm/m (N from 1 to 800 and again), and
the wall clock just before it was written. Ends with its standard input.
"""
import math
import os
import select
import sys
import time
import tty

rate, step = float(sys.argv[1]), float(sys.argv[2])
ours, theirs = os.openpty()
tty.setraw(theirs)
print(os.ttyname(theirs), flush=True)
sent, due = 0, time.monotonic()
while True:
    due += 1 / rate
    ready, _, _ = select.select([sys.stdin], [], [], max(0, due - time.monotonic()))
    if ready:
        break
    sent = sent % 800 + 1
    degrees = math.degrees(math.atan(sent * step * 1e-3))
    body = f"YXXDR,A,{degrees:.6f},D,PITCH"
    checksum = 0
    for byte in body.encode():
        checksum ^= byte
    sentence = f"${body}*{checksum:02X}\r\n".encode()
    written = time.time()
    os.write(ours, sentence)
    print(sent, f"{written:.6f}", flush=True)
