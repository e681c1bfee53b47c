# SPDX-License-Identifier: MIT
"""No file has more than 400 lines, no function of lib/, cli/ and daemon/ more than 44 (from its
brace to its brace): what is longer does two things, and is split by what it does."""
import pathlib
import sys

SOURCE = pathlib.Path(sys.argv[1])
FILE_MAX, FUNCTION_MAX = 400, 44


def functions(lines):
    """Where each body begins and how many lines it has; by .clang-format its braces stand alone
    in the first column."""
    begin = None
    for number, line in enumerate(lines, 1):
        if line == "{":
            begin = number
        elif line == "}" and begin:
            yield begin, number - begin + 1
            begin = None


def main():
    faults, files, bodies = [], 0, 0
    for room in ("lib", "cli", "daemon", "tests", "captures"):
        for path in sorted(p for p in (SOURCE / room).rglob("*") if p.suffix in (".c", ".h", ".py")):
            lines = path.read_text().splitlines()
            files += 1
            if len(lines) > FILE_MAX:
                faults.append(f"{path.relative_to(SOURCE)}: {len(lines)} lines")
            if room in ("tests", "captures"):
                continue
            for begin, length in functions(lines):
                bodies += 1
                if length > FUNCTION_MAX:
                    faults.append(f"{path.relative_to(SOURCE)}:{begin}: a function of {length} lines")
    assert files > 100 and bodies > 1000, f"{files} files, {bodies} functions in {SOURCE}"
    print("\n".join(faults) or f"{files} files, {bodies} functions, none too long")
    return 1 if faults else 0


sys.exit(main())
