"""Compares print_xdr with pynmea2 (Debian: python3-nmea2) on the XDR sentences of data/reference/nmea_samples.txt.

Every value of a type that we read must come out alike, in order. Where we refuse a sentence that pynmea2 takes, the reason must
be one of those below: pynmea2 does not look at types, units or numbers.

    xdr_by_nmea2.py PRINT_XDR SAMPLES
"""
import subprocess
import sys

import pynmea2

READ = "ADCG"
STRICTER = {
    "unit does not belong to the type": 1,
    "transducer type is not a capital letter": 5,
    "value is not a decimal number": 1,
    "fields are not a multiple of four": 6,
}


def values_of(sentence):
    """(type, value, name) of every quad with a value, of the types that are read."""
    fields = pynmea2.parse(sentence, check=True).data
    quads = [fields[i:i + 4] for i in range(0, len(fields) - 3, 4)]
    return [(quad[0], float(quad[1]), quad[3]) for quad in quads if quad[0] in READ and quad[1] != ""]


def main():
    program, samples = sys.argv[1:]
    with open(samples, encoding="ascii") as file:
        rows = [line.split(" | ") for line in file if not line.startswith("#")]
    sentences = [row[3] for row in rows if row[3][3:6] == "XDR" and not row[0].startswith("CKSUM")]
    ours = subprocess.run([program], input="\n".join(sentences) + "\n", capture_output=True, text=True, check=True).stdout.splitlines()
    assert len(ours) == len(sentences), f"{len(sentences)} sentences in, {len(ours)} answers out"

    compared, refused = 0, {}
    for sentence, answer in zip(sentences, ours):
        if answer.startswith("refused: "):
            why = answer.removeprefix("refused: ")
            refused[why] = refused.get(why, 0) + 1
            continue
        fields = answer.split("\t")[:-1]
        got = [(fields[i], float(fields[i + 1]), fields[i + 2]) for i in range(0, len(fields), 3)]
        assert got == values_of(sentence), f"{sentence}\n  ours   {got}\n  theirs {values_of(sentence)}"
        compared += len(got)
    assert refused == STRICTER, f"refused: {refused}"
    assert compared >= 40, f"only {compared} values compared"
    print(f"{compared} values of {len(sentences)} sentences alike; {sum(refused.values())} sentences refused by stricter rules")


main()
