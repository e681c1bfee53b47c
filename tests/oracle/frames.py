# SPDX-License-Identifier: MIT
"""Frames: invented ones, as captures of several forms, and as nodoff reads them."""
import os
import random
import re
import struct
import subprocess
import sys
from collections import namedtuple

SKIPPED = 77

# time: nanoseconds; kind: data, remote, error, fd
Frame = namedtuple("Frame", "time interface id extended kind brs esi length data")

FD_LENGTHS = [0, 1, 7, 8, 12, 16, 20, 24, 32, 48, 64]


def invent(count, seed, step_ns=1000, kinds=("data", "data", "data", "remote", "error", "fd")):
    """Frames of all kinds with times that are multiples of step_ns."""
    chance = random.Random(seed)
    time = 1700000000123456000
    for _ in range(count):
        time += chance.randrange(0, 2000000) * step_ns
        kind = chance.choice(kinds)
        extended = chance.random() < 0.5
        number = chance.choice([0, 1, chance.getrandbits(29 if extended else 11),
                                0x1FFFFFFF if extended else 0x7FF])
        length = chance.choice(FD_LENGTHS) if kind == "fd" else chance.randrange(9)
        data = bytes(chance.getrandbits(8) for _ in range(length))
        if kind == "error":  # class BUSERROR: the one that python-can takes for an error frame
            extended, number, length, data = False, 0x80, 8, bytes(8)
        if kind == "remote":
            data = b""
        fd = kind == "fd"
        yield Frame(time, chance.choice(["can0", "can1"]), number, extended, kind,
                    fd and chance.random() < 0.5, fd and chance.random() < 0.5, length, data)


def log_line(frame, fdf=0, digits=6, padding=0, direction="", lower=False):
    """The frame as a line of a candump log; fdf is 4 in the newer convention."""
    seconds, ns = divmod(frame.time, 10 ** 9)
    fraction = f"{ns // 1000:06}" if digits == 6 else f"{ns:09}"
    number = frame.id | (0x20000000 if frame.kind == "error" else 0)
    wide = frame.extended or frame.kind == "error"
    text = f"{number:08X}#" if wide else f"{number:03X}#"
    if frame.kind == "remote":
        text += "R" + (str(frame.length) if frame.length else "")
    elif frame.kind == "fd":
        text += f"#{frame.brs + 2 * frame.esi + fdf:X}"
    text += frame.data.hex() if lower else frame.data.hex().upper()
    return f"({seconds}.{fraction}) {' ' * padding}{frame.interface} {text}{direction}\n"


LINE = re.compile(r"\((\d+)\.(\d+)\) (\S+) ([0-9A-F]+)#(?:(R)(\d?)|#(\d))?([0-9A-F]*)(?: [RT])?$")


def parse(line):
    """A line that nodoff has printed."""
    seconds, fraction, interface, number, remote, length, flags, data = LINE.match(line).groups()
    time = int(seconds) * 10 ** 9 + int(fraction.ljust(9, "0"))
    value = int(number, 16)
    error = len(number) == 8 and bool(value & 0x20000000)
    kind = "error" if error else "remote" if remote else "fd" if flags else "data"
    data = bytes.fromhex(data)
    flags = int(flags or 0)
    return Frame(time, interface, value & 0x1FFFFFFF, len(number) == 8 and not error, kind,
                 bool(flags & 1), bool(flags & 2), int(length or 0) if remote else len(data), data)


def nodoff_frames(program, *paths):
    done = subprocess.run([program, "frames", "--strict", *paths], capture_output=True, text=True)
    if done.returncode or done.stderr:
        sys.exit(f"nodoff frames {paths}: {done.returncode} {done.stderr}")
    return [parse(line) for line in done.stdout.splitlines()]


def same(what, ours, theirs, without=(), tolerance_ns=0):
    """Compares two lists of frames; fields named in `without` are left out."""
    blank = {name: None for name in without}
    if len(ours) != len(theirs):
        sys.exit(f"{what}: {len(ours)} frames here, {len(theirs)} there")
    for number, (a, b) in enumerate(zip(ours, theirs), 1):
        if abs(a.time - b.time) <= tolerance_ns:
            b = b._replace(time=a.time)
        if a._replace(**blank) != b._replace(**blank):
            sys.exit(f"{what}: frame {number} differs:\n  {a}\n  {b}")
    print(f"{what}: {len(ours)} frames are the same")


# Captures of packets, written from the descriptions of the formats.

def packet(frame):
    """The frame as a packet of link type 227."""
    word = frame.id | (frame.extended << 31) | ((frame.kind == "remote") << 30) | \
        ((frame.kind == "error") << 29)
    flags = (4 | frame.brs | frame.esi << 1) if frame.kind == "fd" else 0
    return struct.pack(">IBBBB", word, frame.length, flags, 0, 0) + frame.data


def pcap(frames, nanoseconds, order):
    out = struct.pack(order + "IHHiIII", 0xA1B23C4D if nanoseconds else 0xA1B2C3D4, 2, 4, 0, 0,
                      262144, 227)
    for frame in frames:
        seconds, ns = divmod(frame.time, 10 ** 9)
        data = packet(frame)
        out += struct.pack(order + "IIII", seconds, ns if nanoseconds else ns // 1000, len(data),
                           len(data)) + data
    return out


def padded(data):
    return data + bytes(-len(data) % 4)


def block(order, kind, body):
    size = len(body) + 12
    return struct.pack(order + "II", kind, size) + body + struct.pack(order + "I", size)


def pcapng(frames, nanoseconds, order):
    out = block(order, 0x0A0D0D0A, struct.pack(order + "IHHq", 0x1A2B3C4D, 1, 0, -1))
    names = sorted({frame.interface for frame in frames})
    for name in names:
        options = struct.pack(order + "HH", 2, len(name)) + padded(name.encode())
        if nanoseconds:
            options += struct.pack(order + "HHB3x", 9, 1, 9)
        out += block(order, 1, struct.pack(order + "HHI", 227, 0, 262144) + options +
                     struct.pack(order + "HH", 0, 0))
    for frame in frames:
        data = packet(frame)
        ticks = frame.time if nanoseconds else frame.time // 1000
        out += block(order, 6, struct.pack(order + "IIIII", names.index(frame.interface),
                                           ticks >> 32, ticks & 0xFFFFFFFF, len(data), len(data)) +
                     padded(data))
    return out


def real_captures(source_root):
    """Recordings from real vehicles that may lie beside the project."""
    for up in ("..", "../.."):
        directory = os.path.join(source_root, up, "shared", "real-captures")
        if os.path.isdir(directory):
            return sorted(os.path.join(directory, name) for name in os.listdir(directory)
                          if name.endswith(".log"))
    return []
