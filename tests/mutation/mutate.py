#!/usr/bin/env python3
# SPDX-License-Identifier: MIT
"""Do the tests notice? Makes one small mistake after another in a copy of the tree, builds what
links the file, and runs the tests that could see it until one fails.

usage: mutate.py WORK [--list FILE] [--jobs N] [--near | --all] [PART-OF-A-NAME ...]

WORK keeps the copy, its build directory and the results (WORK/results): a further run goes on
where the last one stopped, and takes up changed or new mistakes only. The list (mutants.txt) is
plain text; a mistake is

    FILE
    - text of the line as it is, without the blanks around it
    + what stands there instead (may be empty)
    ? why no test can see it (only for one that is known to survive)

A line that stands there several times is told by "- #2 text". A mistake is believed to be seen
only when the test that failed fails a second time; it is believed to survive only when all
passed. The tests: those of the file's own name, then those of its room, then the suites that
link it, one after another, of the library's the one first that judges all shipped sessions.
--near stops after the tests of the room, so that what survives it may yet be seen: a later run
without --near goes on from there. To try new tests on it as well, its line is taken out of
WORK/results. Without --all the slowest (a week's soak, kills by the hundred, the browser) are
left out, and nodoffd's for what is wrong in lib/.
Exit status 1: one survives without a reason, or one that is said to survive is seen."""
import argparse
import json
import os
import pathlib
import re
import shutil
import subprocess
import sys

HERE = pathlib.Path(__file__).resolve().parent
ROOT = HERE.parent.parent
SUITES = {"lib": ["cli", "lib", "captures", "fuzz", "daemon", "faults"], # the last two only with --all
          "daemon": ["daemon", "fuzz", "faults"],
          "cli": ["cli", "daemon"]}
SLOW = re.compile("soak|killed|mishaps|by-the-hundred|page|faults")
NEAR = "survives the tests near"

# Many mistakes end in a test that waits for ever. Those near take a second each, and may take the
# half minute that meson gives them; the others have several times their patience, as the machine
# may be busy.
PATIENCE_NEAR, PATIENCE = 1, 4


def read_list(path):
    mutants, name = [], None
    for number, line in enumerate(path.read_text().splitlines(), 1):
        if line.startswith("- "):
            mutants.append({"file": name, "old": line[2:].strip(), "new": "", "why": ""})
        elif line.startswith("+"):
            mutants[-1]["new"] = line[1:].strip()
        elif line.startswith("? "):
            mutants[-1]["why"] = line[2:].strip()
        elif line and not line.startswith("#"):
            name = line.strip()
            if not (ROOT / name).exists():
                sys.exit(f"{path}:{number}: there is no {name}")
    return mutants


def changed(text, old, new):
    """The text with the mistake, or None when the line is not there."""
    nth = 1
    if match := re.match(r"#(\d+) (.*)", old):
        nth, old = int(match[1]), match[2]
    lines = text.splitlines(keepends=True)
    found = [i for i, line in enumerate(lines) if line.strip() == old]
    if len(found) < nth or (len(found) > 1 and nth == 1 and not match):
        return None
    i = found[nth - 1]
    indent = lines[i][:len(lines[i]) - len(lines[i].lstrip())]
    lines[i] = indent + new + "\n"
    return "".join(lines)


class Bench:
    def __init__(self, work, jobs):
        self.tree, self.build, self.jobs = work / "tree", work / "build", jobs
        work.mkdir(parents=True, exist_ok=True)
        self.copy()
        if not self.build.exists():
            self.run("meson", "setup", self.build, self.tree, "-Doptimization=1", "-Ddebug=false", check=True,
                     env=os.environ | {"CC": "ccache gcc" if shutil.which("ccache") else "gcc"} |
                     ({"LDFLAGS": "-fuse-ld=mold"} if shutil.which("mold") else {}))
        said = self.run("meson", "introspect", "--tests", self.build, check=True).stdout
        self.tests = [t for t in json.loads(said) if t["suite"]]

    @staticmethod
    def run(*command, **more):
        return subprocess.run([str(word) for word in command], capture_output=True, text=True, **more)

    def copy(self):
        """Only what has changed, so that only that is built again."""
        names = self.run("git", "-C", ROOT, "ls-files", "-co", "--exclude-standard", check=True).stdout.splitlines()
        for name in names:
            source, target = ROOT / name, self.tree / name
            if not source.exists() or source.is_dir():
                continue
            if not target.exists() or target.read_bytes() != source.read_bytes():
                target.parent.mkdir(parents=True, exist_ok=True)
                shutil.copy(source, target)

    def stages(self, name, reach, done_near):
        """The tests that could see a mistake there, the likely ones first, and their patience."""
        part, stem = name.split("/")[0], pathlib.Path(name).stem
        room = name.split("/")[1] if part == "lib" else ""
        suites = [f"nodoff:{s}" for s in SUITES[part]]
        linking = [t for t in self.tests if set(t["suite"]) & set(suites)]
        own = [t for t in linking if t["name"].removeprefix("daemon-") == stem]
        of_room = [t for t in linking if (ROOT / f"tests/lib/{room}/test-{t['name']}.c").exists()]
        usual = [t for t in linking if reach == "all" or not SLOW.search(t["name"])]
        wide = [[t for t in usual if suite in t["suite"]] for suite in suites]
        if part == "lib":
            wide = [[t for t in usual if t["name"] == "gate"]] + (wide if reach == "all" else wide[:-2])
        near = [own, of_room or wide[0]]
        seen = set()
        for i, stage in enumerate(near if reach == "near" else near + wide):
            stage = [t["name"] for t in stage if t["name"] not in seen]
            seen.update(stage)
            if stage and not (done_near and i < len(near)):
                yield stage, PATIENCE_NEAR if i < len(near) else PATIENCE

    def failing(self, names, patience):
        """The names of those tests that fail; None when it does not build."""
        log = self.build / "meson-logs/testlog.json"
        log.unlink(missing_ok=True) # that of another run says nothing
        self.run("meson", "test", "-C", self.build, "-q", "--num-processes", self.jobs, "-t", patience,
                 "--maxfail", 1, *names)
        if not log.exists():
            return None
        records = [json.loads(line) for line in log.read_text().split("\n") if line]
        return [r["name"].split(" / ")[-1] for r in records if r["result"] in ("FAIL", "ERROR", "TIMEOUT")]

    def judge(self, mutant, reach, done_near):
        path = self.tree / mutant["file"]
        text = (ROOT / mutant["file"]).read_text()
        wrong = changed(text, mutant["old"], mutant["new"])
        if wrong is None:
            return "not found"
        try:
            path.write_text(wrong)
            for stage, patience in self.stages(mutant["file"], reach, done_near):
                failed = self.failing(stage, patience)
                if failed is None:
                    return "does not build"
                if failed and self.failing(failed[:1], patience):
                    return f"seen by {failed[0]}"
            return NEAR if reach == "near" else "survives"
        finally:
            path.write_text(text)


def main():
    parser = argparse.ArgumentParser(usage=__doc__)
    parser.add_argument("work", type=pathlib.Path)
    parser.add_argument("--list", type=pathlib.Path, default=HERE / "mutants.txt")
    parser.add_argument("--jobs", default="2")
    parser.add_argument("--near", action="store_true")
    parser.add_argument("--all", action="store_true")
    parser.add_argument("parts", nargs="*")
    a = parser.parse_intermixed_args()
    mutants = [m for m in read_list(a.list) if not a.parts or any(p in m["file"] for p in a.parts)]
    mutants.sort(key=lambda m: bool(m["why"])) # what should be seen is tried first
    reach = "near" if a.near else "all" if a.all else "usual"
    bench = Bench(a.work.resolve(), a.jobs)
    store = a.work / "results"
    known = json.loads(store.read_text()) if store.exists() else {}
    wrong = seen = 0
    for m in mutants:
        key = " | ".join((m["file"], m["old"], m["new"]))
        before = known.get(key, "")
        if not before.startswith("seen"):
            known[key] = bench.judge(m, reach, before == NEAR and reach != "near")
            store.write_text(json.dumps(known, indent=1))
        result = known[key]
        seen += result.startswith("seen")
        fault = not result.startswith("seen") and not m["why"] or result.startswith("seen") and m["why"]
        wrong += bool(fault)
        print(f"{'!' if fault else ' '} {m['file']}: {m['old']} -> {m['new'] or 'nothing'}: {result}"
              f"{'; ' + m['why'] if m['why'] else ''}", flush=True)
    print(f"{seen} of {len(mutants)} are seen ({100 * seen // max(len(mutants), 1)} %), {wrong} are not as the "
          "list has them")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
