# SPDX-License-Identifier: MIT
"""Runs the machine of run-boot.sh and does to it what its console asks for:

    @plug       an adapter is plugged in while it runs
    @cut        its power is cut, and it is started again
    @end        it is done

usage: boot-host.py KERNEL INITRAMFS DISK SECONDS"""
import os
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time

KERNEL, INITRAMFS, DISK, SECONDS = sys.argv[1:]
ADAPTER = "kvaser_pci,canbus=b0"


def start(monitor, adapters):
    command = ["qemu-system-x86_64", "-accel", "tcg", "-smp", "2", "-m", "512", "-nodefaults",
               "-display", "none", "-serial", "stdio", "-kernel", KERNEL, "-initrd", INITRAMFS,
               "-append", "console=ttyS0 quiet loglevel=3 systemd.show_status=no panic=1",
               "-drive", f"file={DISK},format=raw,if=virtio,cache=writethrough",
               "-object", "can-bus,id=b0", "-monitor", f"unix:{monitor},server,nowait"]
    for _ in range(adapters):
        command += ["-device", ADAPTER]
    return subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
                            stderr=subprocess.STDOUT, text=True, errors="replace")


def tell(monitor, line):
    with socket.socket(socket.AF_UNIX) as to:
        to.connect(monitor)
        time.sleep(0.5)  # its greeting
        to.sendall(line.encode() + b"\n")
        time.sleep(0.5)
        to.recv(65536)


def run(monitor, adapters):
    """Until the power is cut ("cut") or the machine has ended (None)."""
    machine = start(monitor, adapters)
    limit = threading.Timer(float(SECONDS), machine.kill)
    limit.start()
    asked = None
    for line in machine.stdout:
        line = line.strip("\r\n")
        if line == "@plug":
            tell(monitor, "device_add " + ADAPTER)
        elif line in ("@cut", "@end"):
            asked = line[1:]
            machine.send_signal(signal.SIGKILL)
        else:
            print(line, flush=True)
    machine.wait()
    limit.cancel()
    return asked


with tempfile.TemporaryDirectory() as directory:
    monitor = os.path.join(directory, "monitor")
    if run(monitor, 1) == "cut" and run(monitor, 2) == "end":
        print("# boot ended")
