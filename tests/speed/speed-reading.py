"""How fast nodoff reads a capture of five million lines, beside other programs.

Each program reads the same file, or (the slow ones) its first lines, once the
file is in the page cache. The figures are of the best of a few runs: this
machine may be busy with other things. Peak memory is what the kernel says of
the finished process (measure.c). Prints; never fails for being slow.
"""
import os
import re
import shutil
import subprocess
import sys

PROGRAM, MEASURE, MAKE_CAPTURE, DIRECTORY = sys.argv[1:]

LINES = 5000000
PYTHON_READER = "import can, sys\nfor m in can.CanutilsLogReader(sys.argv[1]): pass"


def make(lines):
    path = os.path.join(DIRECTORY, f"capture-{lines}.log")
    if not os.path.exists(path):
        with open(path + ".part", "wb") as out:
            subprocess.run([MAKE_CAPTURE, str(lines)], stdout=out, check=True)
        os.rename(path + ".part", path)
    return path


def run(command):
    """Seconds of wall clock, of processor, and peak kilobytes."""
    done = subprocess.run([MEASURE, *command], capture_output=True, text=True)
    return [float(word) for word in done.stdout.split()] if done.returncode == 0 else None


def row(name, command, lines, times, note=""):
    found = [result for result in (run(command) for _ in range(times)) if result]
    if not found:
        print(f"{name:<28} failed")
        return
    wall, cpu, memory = (min(values) for values in zip(*found))
    print(f"{name:<28}{lines:>9,}{wall:>8.2f}{lines / wall / 1e6:>9.3f}{cpu / lines * 1e9:>9.1f}"
          f"{memory / 1024:>9.1f}  {note}", flush=True)


def has_command(name):
    out = subprocess.run([PROGRAM, "help"], capture_output=True, text=True).stdout
    return re.search(rf"^  {name} ", out, re.MULTILINE) is not None


def has_python_can():
    return subprocess.run([sys.executable, "-c", "import can"], capture_output=True).returncode == 0


def instructions(command):
    """Instructions that valgrind counts in a run."""
    done = subprocess.run(["valgrind", "--tool=callgrind", "--callgrind-out-file=/dev/null",
                           *command], capture_output=True, text=True)
    found = re.search(r"Collected : (\d+)", done.stderr)
    return int(found.group(1)) if found else None


def count_instructions(name, command):
    """Per line, freed of what starting and ending cost."""
    few, many = (instructions([*command, make(lines)]) for lines in (50000, 150000))
    if few and many:
        print(f"{name:<28}{(many - few) / 100000:>9.1f} instructions a line (valgrind)")


def others():
    """Rows of programs that others wrote; the slow ones read less."""
    whole = make(LINES)
    row("grep -c .", ["grep", "-c", ".", whole], LINES, 3)
    if shutil.which("log2asc"):
        row("log2asc (can-utils)", ["log2asc", "-I", whole, "-O", "/dev/null", "can0", "can1"],
            LINES, 1, "also writes")
    else:
        print("log2asc is missing")
    if has_python_can():
        row("python-can", [sys.executable, "-c", PYTHON_READER, make(500000)], 500000, 1,
            "first lines only")
    else:
        print("python-can is missing")
    if shutil.which("tshark"):
        row("tshark", ["tshark", "-Q", "-r", make(200000), "-Y", "frame.number==0"], 200000, 1,
            "first lines only")
    else:
        print("tshark is missing")


def packed(command):
    path = make(LINES)
    for suffix, tool in ((".zst", ["zstd", "-q", "-f", "-3"]), (".gz", ["gzip", "-f", "-k", "-1"])):
        if not shutil.which(tool[0]):
            continue
        if not os.path.exists(path + suffix):
            subprocess.run([*tool, path], check=True)
        row("nodoff frames --count, " + suffix[1:], [*command, path + suffix], LINES, 2)


def main():
    whole = make(LINES)
    size = os.path.getsize(whole) / 1e6
    print(f"{LINES:,} lines, {size:.0f} MB, invented\n")
    print(f"{'':<28}{'lines':>9}{'s':>8}{'M/s':>9}{'ns cpu':>9}{'MB peak':>9}")
    subprocess.run(["cat", whole], stdout=subprocess.DEVNULL, check=True)
    reading, analysis = [PROGRAM, "frames", "--count"], [PROGRAM, "analyse"]
    row("nodoff frames --count", [*reading, whole], LINES, 5)
    if has_command("analyse"):
        row("nodoff analyse", [*analysis, whole], LINES, 3)
    packed(reading)
    others()
    if shutil.which("valgrind"):
        count_instructions("nodoff frames --count", reading)
        if has_command("analyse"):
            count_instructions("nodoff analyse", analysis)


main()
