# SPDX-License-Identifier: MIT
"""Recordings from real vehicles: what was counted in them by hand."""
import os
import subprocess
import sys

import frames

PROGRAM, ROOT = sys.argv[1:]
PATHS = {os.path.basename(path): path for path in frames.real_captures(ROOT)}


def figures(path):
    out = subprocess.run([PROGRAM, "frames", "--count", path], capture_output=True, text=True,
                         check=True).stdout
    return dict((line[:18].strip(), line[19:]) for line in out.splitlines())


def expect(name, what, found, wanted):
    if found != wanted:
        sys.exit(f"{name}: {what}: {found}, not {wanted}")
    print(f"{name}: {what}: {found}")


def pauses(some, longest):
    """The longest pauses in milliseconds, in order of time."""
    times = [frame.time for frame in some]
    gaps = [round((b - a) / 1e6) for a, b in zip(times, times[1:])]
    least = sorted(gaps)[-longest]
    return [gap for gap in gaps if gap >= least]


def check(name, count, back_steps="0", largest=None):
    path = PATHS[name]
    found = figures(path)
    expect(name, "frames", found["frames"], str(count))
    expect(name, "not readable", found["not readable"], "0")
    expect(name, "steps back in time", found["steps back in time"], back_steps)
    if largest:
        expect(name, "largest step back", found["largest step back"], largest)
    return frames.nodoff_frames(PROGRAM, path)


if not PATHS:
    print("the recordings are not here")
    sys.exit(frames.SKIPPED)
truck = check("truck-one-talker.log", 19535)
expect("truck", "IDs", len({f.id for f in truck}), 23)
expect("truck", "two longest pauses, ms", pauses(truck, 2), [2624578, 114724])
check("car-osek-ring.log", 14294, "1029", "0.024100 s")
tester = check("tester-only.log", 1845)
expect("tester", "seconds", round((tester[-1].time - tester[0].time) / 1e9), 1057)
expect("tester", "longest pause, 0.1 s", round(pauses(tester, 1)[0] / 100), 748)
