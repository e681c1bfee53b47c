# SPDX-License-Identifier: MIT
"""What python-can writes as ASC, BLF, CSV and TRC, read back by it and by us, plain and packed."""
import gzip
import os
import subprocess
import sys
import tempfile

import frames

try:
    import can
    from can.io.trc import TRCFileVersion
except ImportError:
    print("python-can is missing")
    sys.exit(frames.SKIPPED)

PROGRAM, ROOT = sys.argv[1:]


def old_trc(path):
    writer = can.TRCWriter(path)
    writer.file_version = TRCFileVersion.V1_0
    return writer


# What a writer takes, what its form holds (CSV and TRC no channel or no CAN FD), and how far its
# times are good: ASC and TRC hold microseconds, BLF and CSV what a double holds of today.
FORMS = {
    "asc": (can.ASCWriter, can.ASCReader, ("data", "remote", "error", "fd"), 1001),
    "blf": (can.BLFWriter, can.BLFReader, ("data", "remote", "error", "fd"), 1001),
    "csv": (can.CSVWriter, can.CSVReader, ("data", "remote", "error"), 1001),
    "trc": (can.TRCWriter, can.TRCReader, ("data",), 1001),
    # version 1.0 holds whole milliseconds
    "1.trc": (old_trc, can.TRCReader, ("data",), 1000001),
}


def message(f):
    return can.Message(
        timestamp=f.time / 1e9, arbitration_id=f.id, is_extended_id=f.extended,
        is_remote_frame=f.kind == "remote", is_error_frame=f.kind == "error",
        is_fd=f.kind == "fd", bitrate_switch=f.brs, error_state_indicator=f.esi,
        channel=int(f.interface[3:]), data=f.data, dlc=f.length)


def shown(kind, extended, number, length, data, brs, esi):
    """What both must agree on; python-can keeps nothing of an error frame but that it was one."""
    if kind == "error":
        return (kind,)
    return kind, extended, number, length, bytes(data) if kind != "remote" else b"", brs, esi


def ours(path):
    return [(f.time, shown(f.kind, f.extended, f.id, f.length, f.data, f.brs, f.esi), f.interface)
            for f in frames.nodoff_frames(PROGRAM, path)]


def theirs(reader, path):
    out = []
    with reader(path) as messages:
        for m in messages:
            kind = ("error" if m.is_error_frame else "remote" if m.is_remote_frame else
                    "fd" if m.is_fd else "data")
            # what form holds CAN FD only by its length is told by that
            out.append((round(m.timestamp * 1e9),
                        shown(kind, m.is_extended_id, m.arbitration_id, m.dlc, m.data,
                              m.bitrate_switch, m.error_state_indicator), m.channel))
    return out


def compare(what, mine, other, tolerance, channels):
    assert len(mine) == len(other) and mine, f"{what}: {len(mine)} frames, not {len(other)}"
    first_mine, first_other = mine[0][0], other[0][0]
    for number, (a, b) in enumerate(zip(mine, other)):
        assert a[1] == b[1], f"{what}: frame {number}: {a} is not {b}"
        drift = (a[0] - first_mine) - (b[0] - first_other)
        assert abs(drift) <= tolerance, f"{what}: frame {number} is off by {drift} ns"
        if channels and a[1][0] != "error":
            assert a[2] == channels[number], f"{what}: frame {number} is on {a[2]}"


def check(form, directory, seed):
    writer, reader, kinds, tolerance = FORMS[form]
    # its ASC reader takes a CAN FD frame without data for a remote frame, which CAN FD does not have
    invented = [f for f in frames.invent(3000, seed, kinds=kinds)
                if f.kind != "fd" or f.length]
    path = os.path.join(directory, f"written.{form}")
    with writer(path) as out:
        for f in invented:
            out.on_message_received(message(f))
    mine = ours(path)
    compare(form, mine, theirs(reader, path), tolerance,
            [f.interface for f in invented] if form not in ("csv", "1.trc") else None)
    with open(path, "rb") as plain, gzip.open(path + ".gz", "wb") as packed:
        packed.write(plain.read())
    subprocess.run(["zstd", "-q", "-f", path, "-o", path + ".zst"], check=True)
    for suffix in (".gz", ".zst"):
        assert ours(path + suffix) == mine, f"{form}{suffix} differs from the plain file"
    print(f"{form}: {len(mine)} frames agree")


with tempfile.TemporaryDirectory() as scratch:
    for number, name in enumerate(FORMS):
        check(name, scratch, 100 + number)
