#!/usr/bin/env python3
# SPDX-License-Identifier: MIT
"""clang-tidy 14 has nothing to say about lib/, cli/ and daemon/ by .clang-tidy. Some 80 s of
processor time, on all processors at once. usage: test-tidy.py SOURCE BUILD"""
import concurrent.futures
import json
import os
import pathlib
import re
import shutil
import subprocess
import sys

SOURCE, BUILD = (pathlib.Path(path).resolve() for path in sys.argv[1:3])
VERSION = 14  # Debian bookworm's: another one knows other checks
TOGETHER = 8  # files a process: fewer would not keep all processors busy to the end
SKIP = 77


def version():
    if not shutil.which("clang-tidy"):
        return None
    said = subprocess.run(["clang-tidy", "--version"], capture_output=True, text=True, check=True)
    return int(re.search(r"version (\d+)", said.stdout).group(1))


def sources():
    """As they are compiled, each once."""
    entries = json.loads((BUILD / "compile_commands.json").read_text())
    paths = {(pathlib.Path(e["directory"]) / e["file"]).resolve() for e in entries}
    wanted = [SOURCE / room for room in ("lib", "cli", "daemon")]
    return sorted(str(p) for p in paths if any(room in p.parents for room in wanted))


def look(paths):
    return subprocess.run(["clang-tidy", "-p", BUILD, "--quiet", *paths], capture_output=True,
                          text=True)


def main():
    if version() != VERSION:
        print(f"clang-tidy {VERSION} is not installed")
        return SKIP
    files = sources()
    assert len(files) > 200, f"{len(files)} sources in {BUILD}/compile_commands.json"
    parts = [files[i:i + TOGETHER] for i in range(0, len(files), TOGETHER)]
    with concurrent.futures.ThreadPoolExecutor(os.cpu_count()) as pool:
        results = list(pool.map(look, parts))
    faults = [r.stdout or r.stderr for r in results if r.returncode]
    print("\n".join(faults)[:8000] or f"{len(files)} files, nothing to say")
    return 1 if faults else 0


sys.exit(main())
