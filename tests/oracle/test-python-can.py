# SPDX-License-Identifier: MIT
"""python-can reads and writes the same candump logs as we do."""
import os
import sys
import tempfile

import frames

try:
    import can
except ImportError:
    print("python-can is missing")
    sys.exit(frames.SKIPPED)

PROGRAM, ROOT = sys.argv[1:]


def from_message(message):
    # python-can holds times as floating point, which is good to a quarter of
    # a microsecond today.
    time = round(message.timestamp * 1e9)
    kind = ("error" if message.is_error_frame else "remote" if message.is_remote_frame else
            "fd" if message.is_fd else "data")
    return frames.Frame(time, message.channel, message.arbitration_id, message.is_extended_id,
                        kind, message.bitrate_switch, message.error_state_indicator, message.dlc,
                        bytes(message.data))


def read(path):
    with can.CanutilsLogReader(path) as reader:
        return [from_message(message) for message in reader]


def check(what, path, expected=None):
    ours = frames.nodoff_frames(PROGRAM, path)
    if expected:
        frames.same(what + ", as invented", ours, expected)
    theirs = read(path)
    # python-can keeps nothing of an error frame but that it was one.
    blank = {"interface": None, "id": None, "extended": None, "length": None, "data": None}
    ours = [f._replace(**blank) if f.kind == "error" else f for f in ours]
    theirs = [f._replace(**blank) if f.kind == "error" else f for f in theirs]
    frames.same(what, ours, theirs, tolerance_ns=250)


def write_log(path, invented, **how):
    with open(path, "w") as out:
        for number, frame in enumerate(invented):
            out.write(frames.log_line(
                frame, fdf=4 * (number % 2), padding=number % 5, lower=number % 3 == 0,
                direction=["", " R", " T"][number % 3], **how))


def check_written(directory):
    path = os.path.join(directory, "written.log")
    invented = list(frames.invent(2000, 3, kinds=("data", "remote", "fd")))
    with can.CanutilsLogWriter(path) as writer:
        for f in invented:
            writer.on_message_received(can.Message(
                timestamp=f.time / 1e9, arbitration_id=f.id, is_extended_id=f.extended,
                is_remote_frame=f.kind == "remote", is_fd=f.kind == "fd", bitrate_switch=f.brs,
                error_state_indicator=f.esi, channel=f.interface, data=f.data,
                # its writer leaves the length of a remote request out
                dlc=None if f.kind != "remote" else 0))
    frames.same("written by python-can", frames.nodoff_frames(PROGRAM, path),
                [f._replace(length=0) if f.kind == "remote" else f for f in invented],
                tolerance_ns=1000)


with tempfile.TemporaryDirectory() as scratch:
    log = os.path.join(scratch, "invented.log")
    some = list(frames.invent(5000, 1))
    write_log(log, some)
    check("log with microseconds", log, some)
    some = list(frames.invent(5000, 2, step_ns=1))
    write_log(log, some, digits=9)
    check("log with nanoseconds", log, some)
    check_written(scratch)
for real in frames.real_captures(ROOT):
    check(os.path.basename(real), real)
