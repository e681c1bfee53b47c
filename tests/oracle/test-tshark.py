# SPDX-License-Identifier: MIT
"""tshark reads the same frames as we do in candump logs, pcap and pcapng."""
import os
import shutil
import subprocess
import sys
import tempfile

import frames

if not shutil.which("tshark"):
    print("tshark is missing")
    sys.exit(frames.SKIPPED)

PROGRAM, ROOT = sys.argv[1:]

FIELDS = ["frame.time_epoch", "frame.interface_name", "can.id",
          "can.flags.xtd", "can.flags.rtr", "can.flags.err", "can.len", "canfd.flags.brs",
          "canfd.flags.esi", "data.data"]


def from_fields(line):
    """tshark shows of an error report only that it is one."""
    time, name, number, wide, remote, error, length, brs, esi, data = line.split("\t")
    seconds, fraction = time.split(".")
    kind = ("error" if error == "1" else "remote" if remote == "1" else
            "fd" if brs else "data")
    return frames.Frame(
        int(seconds) * 10 ** 9 + int(fraction.ljust(9, "0")), name,
        None if kind == "error" else int(number), None if kind == "error" else wide == "1", kind,
        brs == "1", esi == "1", int(length),
        None if kind == "error" else b"" if kind == "remote" else bytes.fromhex(data))


def read(path):
    # unasked it takes the ID 0 for network management and shows no bytes
    command = ["tshark", "-r", path, "-T", "fields", "--disable-protocol", "autosar-nm"]
    for field in FIELDS:
        command += ["-e", field]
    done = subprocess.run(command, capture_output=True, text=True, errors="replace")
    if done.returncode:
        sys.exit(f"tshark cannot read {path}: {done.stderr}")
    return [from_fields(line) for line in done.stdout.splitlines()]


def check(what, path, expected=None, without=()):
    ours = frames.nodoff_frames(PROGRAM, path)
    if expected:
        frames.same(what + ", as invented", ours, expected, without)
    blank = {"id": None, "extended": None, "data": None}
    frames.same(what, [f._replace(**blank) if f.kind == "error" else f for f in ours], read(path),
                without)


def check_packets(directory, form, write, without):
    for nanoseconds in (False, True):
        some = list(frames.invent(3000, 7, step_ns=1 if nanoseconds else 1000))
        for order in "<>":
            path = os.path.join(directory, "invented." + form)
            with open(path, "wb") as out:
                out.write(write(some, nanoseconds, order))
            what = f"{form}, {'nano' if nanoseconds else 'micro'}seconds, {order}"
            check(what, path, some, without)


with tempfile.TemporaryDirectory() as scratch:
    # tshark 4.0 reads no padded names, direction markers or 9 digits
    log = os.path.join(scratch, "invented.log")
    invented = list(frames.invent(5000, 4))
    with open(log, "w") as out:
        for i, f in enumerate(invented):
            out.write(frames.log_line(f, fdf=4 * (i % 2), lower=i % 3 == 0))
    check("log", log, without=["interface"])
    check_packets(scratch, "pcap", frames.pcap, ["interface"])
    check_packets(scratch, "pcapng", frames.pcapng, [])
for real in frames.real_captures(ROOT):
    check(os.path.basename(real), real, without=["interface"])
