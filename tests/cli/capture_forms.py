# SPDX-License-Identifier: MIT
"""A candump log in the other forms that nodoff reads, made without its help."""
import re
import struct

FRAME = re.compile(r"\((\d+)\.(\d{6})\) (\S+) ([0-9A-F]+)#([0-9A-F]*)")


def zstd(data):
    """A zstd frame of raw blocks (RFC 8878): no checksum, a window of 2 MiB."""
    out = [struct.pack("<IBB", 0xFD2FB528, 0, 0x58)]
    pieces = [data[i:i + 100000] for i in range(0, len(data), 100000)]
    for i, piece in enumerate(pieces):
        header = (i + 1 == len(pieces)) | len(piece) << 3
        out += [struct.pack("<I", header)[:3], piece]
    return b"".join(out)


def pcap(text, interface):
    """The data frames of one interface as pcap, link type 227: LINKTYPE_CAN_SOCKETCAN."""
    out = [struct.pack("<IHHiIII", 0xA1B2C3D4, 2, 4, 0, 0, 65535, 227)]
    for seconds, micros, name, identifier, payload in FRAME.findall(text):
        if name != interface:
            continue
        data = bytes.fromhex(payload)
        number = int(identifier, 16) | (0x80000000 if len(identifier) == 8 else 0)
        frame = struct.pack(">IBBBB", number, len(data), 0, 0, 0) + data
        out += [struct.pack("<IIII", int(seconds), int(micros), len(frame), len(frame)), frame]
    return b"".join(out)
