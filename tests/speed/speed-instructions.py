#!/usr/bin/python3
# SPDX-License-Identifier: MIT
"""How many instructions a frame costs, and that they have not become more.

speed-instructions.py PROGRAM MAKE_CAPTURE DIRECTORY COMPILER [--update | --functions ROW]

Valgrind's callgrind counts the instructions of a run over many frames and of
one over fewer; the difference is what the frames between cost, freed of
starting and ending. It does not vary with what else the machine does, so a
regression of a few per cent shows where times would hide it.

The counts belong to a compiler and its options: instructions.txt names the
compiler, and with another one the counts are shown but not judged. A row above
its entry by more than TOLERANCE fails; a row that has become cheaper says so.
--update writes the table anew. --functions "ROW" shows which functions the
instructions of one row are in.
"""
import argparse
import os
import re
import shutil
import subprocess
import sys
import tempfile

from captures import Captures

TABLE = os.path.join(os.path.dirname(os.path.abspath(__file__)), "instructions.txt")

# Share by which a count may exceed its entry. Chosen: a library's other version
# moves the packed rows by one or two per cent; the other rows vary by less than 0.1.
TOLERANCE = 0.05

# What one ID may cost more or less where there are many, as a share. Chosen: the
# sorting at the end grows with the logarithm.
ID_TOLERANCE = 0.5

COUNT, ANALYSE = ["frames", "--count"], ["analyse"]
FEW, MANY = 100000, 200000

# name, command, options of the captures
ROWS = [
    ("count, text", COUNT, {}),
    ("count, zstd", COUNT, {"packing": "zst"}),
    ("count, gzip", COUNT, {"packing": "gz"}),
    ("count, pcap", COUNT, {"form": "pcap"}),
    ("count, pcapng", COUNT, {"form": "pcapng"}),
    ("analyse, text", ANALYSE, {}),
    ("analyse, zstd", ANALYSE, {"packing": "zst"}),
    ("analyse, pcap", ANALYSE, {"form": "pcap"}),
    ("analyse, 10 IDs", ANALYSE, {"ids": 10, "still": True}),
    ("analyse, 2,048 IDs", ANALYSE, {"ids": 2048, "still": True}),
    ("analyse, 100,000 IDs", ANALYSE, {"ids": 100000, "still": True}),
]


def callgrind(command, out="/dev/null", options=()):
    """Instructions of a run, None when it failed."""
    done = subprocess.run(["valgrind", "--tool=callgrind", f"--callgrind-out-file={out}", *options,
                           *command],
                          stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    found = re.search(r"Collected : (\d+)", done.stderr)
    return int(found.group(1)) if found and done.returncode == 0 else None


def lines_of(options):
    """Few and many lines: with many IDs each has been heard ten times before the counting
    begins, and network management is no longer looked for."""
    first = max(450000, 10 * options.get("ids", 0)) if options.get("still") else FEW
    return first, first + MANY - FEW


def per_frame(program, captures, row):
    name, command, options = row
    few, many = lines_of(options)
    paths = [captures.get(lines, **options) for lines in (few, many)]
    if None in paths:
        return None
    # Until the record of an ID is full, a frame more makes its evaluation at the end dearer.
    counted = ["--toggle-collect=nod_engine_findings", "--collect-atstart=yes"] \
        if options.get("still") else []
    low, high = (callgrind([program, *command, path], options=counted) for path in paths)
    return None if low is None or high is None else (high - low) / (many - few)


def per_id(program, captures, ids):
    """Instructions that an ID more costs, from the first frame to the answer."""
    lines = 600000
    low, high = (callgrind([program, *ANALYSE, captures.get(lines, ids=n, still=True)])
                 for n in (ids, 2 * ids))
    return None if low is None or high is None else (high - low) / ids


def read_table():
    """The compiler and the counts by name."""
    compiler, counts = None, {}
    if not os.path.exists(TABLE):
        return compiler, counts
    with open(TABLE) as table:
        for line in table:
            if line.startswith("compiler:"):
                compiler = line.split(":", 1)[1].strip()
            elif line.strip() and not line.startswith("#"):
                name, count = line.rsplit(None, 1)
                counts[name] = float(count)
    return compiler, counts


def write_table(compiler, counts):
    with open(TABLE, "w") as table:
        table.write("# Instructions per frame, by valgrind; written by speed-instructions.py --update.\n"
                    f"compiler: {compiler}\n")
        for name, count in counts.items():
            table.write(f"{name:<24}{count:>9.1f}\n")


def judge(count, entry):
    if entry is None:
        return "no entry in the table", False
    change = count / entry - 1
    text = f"{entry:>9.1f}{100 * change:>+8.1f} %"
    if change > TOLERANCE:
        return text + "  REGRESSION", True
    return text + ("  cheaper: --update" if change < -TOLERANCE else ""), False


def show_functions(program, captures, name):
    rows = [row for row in ROWS if row[0] == name]
    if not rows:
        sys.exit("rows: " + "; ".join(row[0] for row in ROWS))
    _, command, options = rows[0]
    with tempfile.NamedTemporaryFile() as out:
        callgrind([program, *command, captures.get(lines_of(options)[1], **options)], out.name)
        text = subprocess.run(["callgrind_annotate", "--auto=no", out.name], check=True,
                              stdout=subprocess.PIPE, text=True).stdout
    for line in text.splitlines()[:60]:
        print(re.sub(r"\S*/(\w[^/]*:\S+) \[.*", r"\1", line))


def linear(program, captures):
    """Prints the cost of an ID for three numbers of them; False when it grows."""
    counts = [(n, per_id(program, captures, n)) for n in (1024, 10000, 50000)]
    if any(count is None for _, count in counts):
        print("the cost of an ID could not be counted")
        return False
    print("\nAn ID more, from its first frame to the answer:")
    for n, count in counts:
        print(f"  from {n:>6,} to {2 * n:>7,} IDs {count:>9.0f} instructions each")
    grows = counts[2][1] > counts[1][1] * (1 + ID_TOLERANCE)
    if grows:
        print("  REGRESSION: with five times the IDs each costs "
              f"{counts[2][1] / counts[1][1]:.1f} times as much")
    return not grows


def main():
    parser = argparse.ArgumentParser()
    for name in ("program", "make_capture", "directory", "compiler"):
        parser.add_argument(name)
    parser.add_argument("--update", action="store_true")
    parser.add_argument("--functions", metavar="ROW")
    args = parser.parse_args()
    if not shutil.which("valgrind"):
        print("valgrind is missing")
        return 77
    captures = Captures(args.make_capture, args.directory)
    if args.functions:
        show_functions(args.program, captures, args.functions)
        return 0
    compiler, entries = read_table()
    comparable = compiler == args.compiler
    counts, failed = {}, False
    print(f"{'instructions per frame':<24}{'now':>9}{'table':>9}  change")
    for row in ROWS:
        count = per_frame(args.program, captures, row)
        if count is None:
            print(f"{row[0]:<24}  could not be counted")
            failed = True
            continue
        counts[row[0]] = count
        text, worse = judge(count, entries.get(row[0]))
        failed |= worse and comparable
        print(f"{row[0]:<24}{count:>9.1f}{text if text[0] == ' ' else '  ' + text}", flush=True)
    if not comparable:
        print(f"the table is of {compiler}, this is {args.compiler}: shown, not judged")
    if args.update:
        write_table(args.compiler, counts)
        return 0
    return 0 if linear(args.program, captures) and not failed else 1


sys.exit(main())
