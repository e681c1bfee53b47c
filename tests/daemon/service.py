#!/usr/bin/env python3
# SPDX-License-Identifier: MIT
"""The service confines nodoffd, by systemd's own judgement.

usage: service.py UNIT-FILE SYSUSERS-FILE

`systemd-analyze security` gives a unit 0.0 (all confined) to 10.0; ours must
stay at or below THRESHOLD. What it costs us is listed below, and that list
must stay as it is: no other privilege, no other address family."""
import json
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile

# Chosen: the score on Debian bookworm (systemd 252) is 1.4; below 2.0 systemd
# itself says "OK". A little room for other versions' weights.
THRESHOLD = 1.5
# What nodoffd needs and therefore pays for.
PAID = {
    "AmbientCapabilities": "CAP_NET_ADMIN for the helper that sets interfaces up",
    "CapabilityBoundingSet_CAP_NET_ADMIN": "the same",
    "SystemCallFilter_privileged": "capset, with which nodoffd gives the capability up",
    "PrivateNetwork": "the CAN interfaces are the machine's",
    "PrivateUsers": "the capability must hold for the machine's interfaces",
    "RestrictAddressFamilies_AF_NETLINK": "interfaces come and go",
    "RestrictAddressFamilies_AF_UNIX": "the control socket",
    "RestrictAddressFamilies_OTHER": "AF_CAN",
    "RootDirectoryOrRootImage": "the vehicle file lies where its user keeps it",
    "DeviceAllow": "the clock, readable, which ProtectClock= adds",
    "UMask": "the group reads the recordings",
}


def say(*words):
    print(*words, flush=True)


def security(unit):
    text = subprocess.run(["systemd-analyze", "security", "--offline=true", "--json=short",
                           "--no-pager", unit], check=True, capture_output=True, text=True).stdout
    return json.loads(text)


def score(unit):
    text = subprocess.run(["systemd-analyze", "security", "--offline=true", "--no-pager", unit],
                          check=True, capture_output=True, text=True).stdout
    return float(re.search(r"Overall exposure level for \S+: ([0-9.]+)", text).group(1))


def verify(unit, directory):
    """systemd reads the whole unit without a complaint; the program it starts
    is replaced by one that is there."""
    text = re.sub(r"(?m)^ExecStart=\S+", "ExecStart=/bin/true", pathlib.Path(unit).read_text())
    copy = pathlib.Path(directory, "nodoffd.service")
    copy.write_text(text)
    done = subprocess.run(["systemd-analyze", "verify", "--man=no", "--recursive-errors=no", copy],
                          capture_output=True, text=True)
    return [line for line in (done.stdout + done.stderr).splitlines() if "nodoffd" in line]


def main(unit, sysusers):
    if not shutil.which("systemd-analyze"):
        say("skipped: the program systemd-analyze is missing (package systemd)")
        return 77
    faults = []
    exposure = score(unit)
    say(f"systemd-analyze security: {exposure}")
    if exposure > THRESHOLD:
        faults.append(f"the score is {exposure}, above {THRESHOLD}")
    for row in security(unit):
        if row["set"] is False and row["json_field"] not in PAID:
            faults.append(f"{row['name']}: {row['description']}")
    with tempfile.TemporaryDirectory() as directory:
        faults += verify(unit, directory)
    text = pathlib.Path(unit).read_text()
    for key in ("User", "Group"):
        name = re.search(rf"(?m)^{key}=(\S+)$", text).group(1)
        if not re.search(rf"(?m)^u {name} ", pathlib.Path(sysusers).read_text()):
            faults.append(f"{key}={name} is not made by {sysusers}")
    if not re.search(r"(?m)^CapabilityBoundingSet=CAP_NET_ADMIN$", text):
        faults.append("the service may have other capabilities than CAP_NET_ADMIN")
    say("\n".join(faults) or "the service is confined as far as its work allows")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
