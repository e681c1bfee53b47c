# SPDX-License-Identifier: MIT
"""Invented DBC files, as canmatrix reads them and as we do: what has a meaning must be the same."""
import contextlib
import io
import logging
import os
import random
import subprocess
import sys
import tempfile

import frames

try:
    import yaml
    logging.disable(logging.CRITICAL)
    with contextlib.redirect_stderr(io.StringIO()), contextlib.redirect_stdout(io.StringIO()):
        import canmatrix.formats
except ImportError:
    print("canmatrix is missing")
    sys.exit(frames.SKIPPED)

PROGRAM = sys.argv[1]
UNITS = ["", "V", "km/h", "%", "°C", "1/min"]
WORDS = ["off", "on", "not available", "error", "door; open", "50 %", "ajar, a bit"]


def signal(chance, number, start, room, mux):
    bits = chance.randrange(1, min(room, 32) + 1)
    big = chance.random() < 0.5 and start % 8 == 0
    # big-endian: begins at the highest bit of the byte it stands in
    place = f"{start + 7 if big else start}|{bits}@{0 if big else 1}{chance.choice('+-')}"
    factor, offset = chance.choice(["1", "0.5", "0.001", "1E-3", "-2", "1e+002"]), \
        chance.choice(["0", "-40", "273.15", "-1.5E2", "+3"])
    name = f"S{number}"
    unit, receivers = chance.choice(UNITS), chance.choice(["N1", "N1,N2", "Vector__XXX"])
    return name, bits, (f' SG_ {name}{mux} : {place} ({factor},{offset}) [0|{1 << bits}] '
                        f'"{unit}" {receivers}')


def message(chance, number, details):
    extended = chance.random() < 0.4
    identifier = (0x80000000 | 0x10000000 + number) if extended else 0x100 + number
    length = chance.choice([1, 2, 8, 8, 8, 64])
    lines = [f"BO_ {identifier} M{number}: {length} {chance.choice(['N0', 'N1', 'Vector__XXX'])}"]
    start, count, muxed = 0, 0, length == 8 and chance.random() < 0.3
    while start < length * 8 and count < 12:
        mux = "" if not muxed or count > 2 else " M" if not count else f" m{count}"
        name, bits, text = signal(chance, count, start, length * 8 - start, mux)
        lines.append(text)
        if chance.random() < 0.3:
            words = " ".join(f'{i} "{chance.choice(WORDS)}"' for i in range(min(3, 1 << (bits - 1))))
            details.append(f"VAL_ {identifier} {name} {words} ;")
        if chance.random() < 0.3:
            details.append(f'CM_ SG_ {identifier} {name} "says {name} of {number}";')
        start += (bits + 7) // 8 * 8
        count += 1
    if chance.random() < 0.4:
        details.append(f'BA_ "GenMsgCycleTime" BO_ {identifier} {chance.choice([10, 100, 1000])};')
    if chance.random() < 0.3:
        details.append(f'CM_ BO_ {identifier} "message {number}";')
    return "\n".join(lines)


def invent(chance):
    details = ['BA_DEF_ BO_ "GenMsgCycleTime" INT 0 65535;', 'BA_DEF_DEF_ "GenMsgCycleTime" 0;',
               'BA_DEF_REL_ BU_SG_REL_ "Timeout" INT 0 100;', 'BA_DEF_ "Bus" STRING ;']
    messages = [message(chance, n, details) for n in range(chance.randrange(1, 12))]
    return "\n\n".join(['VERSION "1"', "NS_ :\n\tCM_\n\tBA_DEF_\n\tVAL_\n\tFILTER\n\tSG_MUL_VAL_", "BS_:",
                        "BU_: N0 N1 N2", *messages, "", "\n".join(details), ""])


def ours(path):
    done = subprocess.run([PROGRAM, "vehicle", "import", path], capture_output=True, text=True)
    assert not done.returncode, done.stderr
    found = {}
    for name, m in (yaml.safe_load(done.stdout)["messages"]).items():
        signals = {}
        for key, s in (m.get("signals") or {}).items():
            at = str(s["at"]).split()
            signals[key] = (int(at[1]) * 8 + int(at[3]), s.get("bits", 1),
                            s.get("byte order") == "big", s.get("type") == "signed",
                            float(s.get("factor", 1)), float(s.get("offset", 0)),
                            s.get("unit") or "", len(s.get("values") or {}), s.get("comment") or "",
                            "when" in s)
        found[name] = (m["length"], str(m.get("period", "")), m.get("comment") or "", signals)
    return found


def theirs(path):
    with contextlib.redirect_stderr(io.StringIO()), contextlib.redirect_stdout(io.StringIO()):
        matrix = list(canmatrix.formats.loadp(path, dbcImportEncoding="utf-8",
                                              dbcImportCommentEncoding="utf-8").values())[0]
    found = {}
    for m in matrix.frames:
        signals = {}
        for s in m.signals:
            signals[s.name] = (s.get_startbit(bit_numbering=1), s.size, not s.is_little_endian,
                               s.is_signed, float(s.factor), float(s.offset), s.unit,
                               len(s.values), s.comment or "", isinstance(s.mux_val, int))
        period = {0: "", 10: "10 ms", 100: "100 ms", 1000: "1 s"}[int(m.cycle_time)]
        found[m.name] = (m.size, period, m.comment or "", signals)
    return found


def one_bit(found):
    """Of one bit neither byte order has a meaning."""
    return {name: (*m[:3], {k: (s[0], s[1], s[1] > 1 and s[2], *s[3:]) for k, s in m[3].items()})
            for name, m in found.items()}


with tempfile.TemporaryDirectory() as scratch:
    for seed in range(60):
        text = invent(random.Random(seed))
        written = os.path.join(scratch, f"{seed}.dbc")
        with open(written, "w", encoding="utf-8", newline="\r\n" if seed % 3 == 0 else "\n") as out:
            out.write(text)
        mine, other = one_bit(ours(written)), one_bit(theirs(written))
        for name in other:
            assert mine.get(name) == other[name], f"seed {seed}: {name}\n{mine.get(name)}\n{other[name]}"
        assert mine.keys() == other.keys()
print("60 files agree")
