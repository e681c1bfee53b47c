# SPDX-License-Identifier: MIT
"""What nodoffd asks of the kernel is what `ip` of iproute2 asks for the same settings, with
"up" in the same message. `ip` is pointed at the loopback interface, where the kernel refuses it;
what it sent is seen all the same. Exit status 77: there is no ip here."""
import os
import shutil
import struct
import subprocess
import sys

PRINT_REQUEST, SHOW_SENT = sys.argv[1:3]
NEWLINK = 16
# linux/if_link.h, linux/can/netlink.h
LINKINFO, INFO_DATA = 18, 2
CTRLMODE = 5
UP = 1
NESTED = 0x8000


def attributes(data, level=0):
    """{path: bytes} of all attributes, nests opened."""
    found = {}
    while len(data) >= 4:
        length, kind = struct.unpack_from("=HH", data)
        kind &= ~NESTED
        body = data[4:length]
        if (level, kind) in ((0, LINKINFO), (1, INFO_DATA)):
            found |= {(kind, *rest): b for rest, b in attributes(body, level + 1).items()}
        else:
            found[(kind,)] = body
        data = data[(length + 3) & ~3:]
    return found


def read(text):
    message = bytes.fromhex(text)
    (length, kind) = struct.unpack_from("=IH", message)
    (_, _, index, flags, change) = struct.unpack_from("=BxHiII", message, 16)
    assert length == len(message), text
    return kind, index, flags, change, attributes(message[32:])


def of_ip(arguments):
    """The message that changes the interface, of those that ip sends."""
    said = subprocess.run(["ip", "link", "set", "lo", *arguments.split()],
                          env=os.environ | {"LD_PRELOAD": SHOW_SENT}, capture_output=True, text=True,
                          check=False).stderr
    sent = [read(line) for line in said.splitlines()
            if line and set(line) <= set("0123456789abcdef")]
    return [m for m in sent if m[0] == NEWLINK][-1]


def compare(numbers, arguments):
    ours = read(subprocess.run([PRINT_REQUEST, "1", *map(str, numbers)], capture_output=True,
                               text=True, check=True).stdout.strip())
    theirs = of_ip(arguments)
    assert ours[:2] == theirs[:2] == (NEWLINK, 1), (ours, theirs)
    assert ours[2:4] == (UP, UP), ours
    mode = (LINKINFO, INFO_DATA, CTRLMODE)
    mask, flags = struct.unpack("=II", ours[4].pop(mode))
    their_mask, their_flags = struct.unpack("=II", theirs[4].pop(mode))
    assert flags == their_flags, (flags, their_flags)
    assert mask & their_mask == their_mask, (mask, their_mask)  # more is cleared
    assert {k: v.rstrip(b"\0") for k, v in ours[4].items()} == \
        {k: v.rstrip(b"\0") for k, v in theirs[4].items()}, (ours, theirs)
    print("ok", arguments)


if not shutil.which("ip"):
    print("skipped: there is no ip here")
    sys.exit(77)
compare((125000, 0, 0, 0), "type can bitrate 125000 listen-only on restart-ms 100")
compare((500000, 800, 0, 0), "type can bitrate 500000 sample-point 0.8 listen-only on restart-ms 100")
compare((500000, 0, 2000000, 0),
        "type can bitrate 500000 dbitrate 2000000 fd on listen-only on restart-ms 100")
compare((500000, 800, 5000000, 700), "type can bitrate 500000 sample-point 0.8 dbitrate 5000000 "
        "dsample-point 0.7 fd on listen-only on restart-ms 100")
