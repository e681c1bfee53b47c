# SPDX-License-Identifier: MIT
"""How fast nodoff reads and analyses, beside other programs on the same files.

speed-reading.py PROGRAM MEASURE MAKE_CAPTURE DIRECTORY

Each program reads the same file, or (the slow ones) its first lines, once the
file is in the page cache. The figures are of the best of a few runs: this
machine may be busy with other things; "ns cpu" is processor time, which other
work disturbs less. Peak memory is what the kernel says of the finished process
(measure.c). Prints; never fails for being slow.
"""
import os
import shutil
import subprocess
import sys

from captures import Captures

PROGRAM, MEASURE, MAKE_CAPTURE, DIRECTORY = sys.argv[1:]
COUNT, ANALYSE = [PROGRAM, "frames", "--count"], [PROGRAM, "analyse"]
LINES = 5000000
FEW = 200000
PYTHON_READER = "import can, sys\nfor m in can.CanutilsLogReader(sys.argv[1]): pass"

captures = Captures(MAKE_CAPTURE, DIRECTORY)


def run(command):
    """Seconds of wall clock, of processor, and peak kilobytes."""
    done = subprocess.run([MEASURE, *command], capture_output=True, text=True)
    return [float(word) for word in done.stdout.split()] if done.returncode == 0 else None


def row(name, command, lines, times=3, note=""):
    found = [result for result in (run(command) for _ in range(times)) if result]
    if not found:
        print(f"{name:<30} failed", flush=True)
        return
    wall, cpu, memory = (min(values) for values in zip(*found))
    print(f"{name:<30}{lines:>11,}{wall:>8.3f}{lines / wall / 1e6:>9.2f}{cpu / lines * 1e9:>9.1f}"
          f"{memory / 1024:>9.1f}  {note}".rstrip(), flush=True)


def title(text):
    print(f"\n{text:<30}{'lines':>11}{'s':>8}{'M/s':>9}{'ns cpu':>9}{'MB peak':>9}")


def warm(path):
    subprocess.run(["cat", path], stdout=subprocess.DEVNULL, check=True)


def has_python_can():
    return subprocess.run([sys.executable, "-c", "import can"], capture_output=True).returncode == 0


def tshark(path, note):
    if shutil.which("tshark"):
        row("tshark", ["tshark", "-Q", "-r", path, "-Y", "frame.number==0"], FEW, 1, note)
    else:
        print("tshark is missing")


def text():
    whole = captures.get(LINES)
    title(f"candump text, {os.path.getsize(whole) / 1e6:.0f} MB")
    warm(whole)
    row("grep -c .", ["grep", "-c", ".", whole], LINES)
    row("nodoff frames --count", [*COUNT, whole], LINES, 5)
    row("nodoff analyse", [*ANALYSE, whole], LINES, 5)
    if shutil.which("log2asc"):
        row("log2asc (can-utils)", ["log2asc", "-I", whole, "-O", "/dev/null", "can0", "can1"],
            LINES, 1, "also writes")
    else:
        print("log2asc is missing")
    few = captures.get(FEW)
    if has_python_can():
        row("python3-can", [sys.executable, "-c", PYTHON_READER, few], FEW, 1, "first lines only")
    else:
        print("python3-can is missing")
    tshark(few, "first lines only")


def packed():
    for packing, unpack in (("zst", ["zstd", "-q", "-d", "-c"]), ("gz", ["gzip", "-d", "-c"])):
        path = captures.get(LINES, packing=packing)
        if not path:
            print(f"\n{unpack[0]} is missing")
            continue
        title(f"the same as .{packing}, {os.path.getsize(path) / 1e6:.0f} MB")
        warm(path)
        row(" ".join(unpack), [*unpack, path], LINES, 3, "unpacks only")
        row("nodoff frames --count", [*COUNT, path], LINES)
        row("nodoff analyse", [*ANALYSE, path], LINES)


def packets():
    for form in ("pcap", "pcapng"):
        path = captures.get(LINES, form)
        title(f"the same as {form}, {os.path.getsize(path) / 1e6:.0f} MB")
        warm(path)
        row("nodoff frames --count", [*COUNT, path], LINES)
        row("nodoff analyse", [*ANALYSE, path], LINES)
        tshark(captures.get(FEW, form), "first packets only")


def folder():
    """Eight sessions of a million lines; what is expected of them is what is said of them."""
    directory = os.path.join(DIRECTORY, "captures", "folder")
    lines, sessions = 1000000, 8
    whole = captures.get(lines)
    shutil.rmtree(directory, ignore_errors=True)
    for i in range(sessions):
        session = os.path.join(directory, str(i))
        os.makedirs(session)
        os.link(whole, os.path.join(session, "frames.log"))
        subprocess.run([PROGRAM, "gate", "--update", session, "--yes"], check=True,
                       stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    title(f"a folder of {sessions} sessions")
    cores = len(os.sched_getaffinity(0))
    for jobs in sorted({1, 2, cores}):
        row(f"nodoff gate --jobs {jobs}", [PROGRAM, "gate", "--jobs", str(jobs), directory],
            lines * sessions, 3, f"{cores} cores here")


def lengths():
    title("longer and longer captures")
    for lines in (1000000, 2000000, 4000000, 5000000, 20000000):
        path = captures.get(lines)
        warm(path)
        row("nodoff frames --count", [*COUNT, path], lines, 2)
        row("nodoff analyse", [*ANALYSE, path], lines, 2)
        if lines > LINES:
            captures.remove(path)  # a gigabyte


def id_counts():
    """Nothing changes in these payloads, so that what is learned once per ID does not
    stand for what is done per frame."""
    lines = 4000000
    title("more and more IDs")
    for ids in (10, 100, 2048, 10000, 100000):
        path = captures.get(lines, ids=ids, still=True)
        warm(path)
        row(f"nodoff analyse, {ids:,} IDs", [*ANALYSE, path], lines, 3,
            "standard" if ids <= 2048 else "extended")


def main():
    text()
    packed()
    packets()
    folder()
    lengths()
    id_counts()


main()
