#!/usr/bin/env python3
# SPDX-License-Identifier: MIT
"""No code path of the daemon writes to a CAN socket.

usage: no-sending.py SOURCE-DIRECTORY OBJECT-DIRECTORY

The file that opens CAN sockets calls nothing that could carry data out, which
is read from its object file; the switcher, which may change interfaces, makes
no socket but its pair and starts no program; one file only makes the messages
that change an interface; no other file of the daemon, the library or the
commands makes a socket of a family that could, which is read from the source.
The kernel's refusal is another test (tests/bench/try-to-send.c)."""
import pathlib
import re
import subprocess
import sys

CARRYING = {
    "write", "writev", "pwrite", "pwrite64", "pwritev", "pwritev64", "pwritev2", "send", "sendto",
    "sendmsg", "sendmmsg", "sendfile", "sendfile64", "splice", "vmsplice", "tee", "syscall",
    "copy_file_range", "aio_write", "io_submit", "fdopen", "dprintf", "dup", "dup2", "dup3",
}
CAN_FAMILY = re.compile(r"\b(PF_CAN|AF_CAN|CAN_RAW|CAN_BCM|CAN_ISOTP|CAN_J1939|AF_PACKET|PF_PACKET|CGW_\w+)\b")
# listener.c makes and reads the sockets; lockdown.c looks for them.
ALLOWED = {"daemon/listener.c", "daemon/lockdown.c", "daemon/lockdown.h", "daemon/listener.h"}


# What names the mode of a controller or another way to change an interface:
# link.c reads it, link-request.c makes it.
CHANGES = re.compile(r"\b(CAN_CTRLMODE_\w+|IFLA_CAN_CTRLMODE|SIOCSIF\w+|RTM_SETLINK|libsocketcan)\b")
CHANGING = {"daemon/link.c", "daemon/link-request.c"}


def undefined_symbols(path):
    text = subprocess.run(["nm", "--undefined-only", path], check=True, capture_output=True,
                          text=True).stdout
    return {line.split()[-1].split("@")[0] for line in text.splitlines() if line.split()}


def main(source, objects):
    faults = []
    listener = list(pathlib.Path(objects).glob("**/listener.c.o"))
    if len(listener) != 1:
        faults.append(f"expected one listener.c.o under {objects}, found {len(listener)}")
    for path in listener:
        called = undefined_symbols(path)
        if not {"socket", "recvmmsg"} <= called:
            faults.append(f"{path} no longer reads CAN sockets: is this the right file?")
        faults += [f"{path} calls {name}" for name in sorted(called & CARRYING)]
    for directory in ("lib", "daemon", "cli"):
        for path in sorted(pathlib.Path(source, directory).glob("**/*.[ch]")):
            name = str(path.relative_to(source))
            found = CAN_FAMILY.search(path.read_text())
            if found and name not in ALLOWED:
                faults.append(f"{name} names {found.group(0)}")
            found = CHANGES.search(path.read_text())
            if found and name not in CHANGING:
                faults.append(f"{name} names {found.group(0)}")
    for path in pathlib.Path(objects).glob("**/switcher.c.o"):
        called = undefined_symbols(path)
        if not {"fork", "nod_lockdown_switcher", "nod_privileges_drop"} <= called:
            faults.append(f"{path} is no longer confined: is this the right file?")
        faults += [f"{path} calls {name}" for name in sorted(
            called & (CARRYING - {"send", "dup2"} | {"socket", "bind", "connect", "execve"}))]
    lockdown = pathlib.Path(source, "daemon/lockdown.c").read_text()
    if re.search(r"socket\s*\(\s*(PF|AF)_", lockdown):
        faults.append("daemon/lockdown.c opens a socket")
    print("\n".join(faults) or "nothing that opens a CAN socket can send on it")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
