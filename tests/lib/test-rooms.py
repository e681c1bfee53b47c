# SPDX-License-Identifier: MIT
"""The order of the rooms of lib/: a room uses only those that DEVELOPERS.md allows it, by
include and by call, and the allowed ones stand before it."""
import pathlib
import re
import subprocess
import sys

SOURCE, OBJECTS = pathlib.Path(sys.argv[1]), pathlib.Path(sys.argv[2])
ROW = re.compile(r"^\| (\w+) \| ([\w ]+|-) \| .* \|$", re.M)


def allowed():
    """The rooms in order, each with what it may use."""
    text = (SOURCE / "DEVELOPERS.md").read_text().split("| room | may use |")[1].split("\n\n")[0]
    table = {room: set(uses.split()) - {"-"} for room, uses in ROW.findall(text)}
    listed = re.search(r"lib_rooms = \[(.*?)\]", (SOURCE / "lib/meson.build").read_text(), re.S)
    assert list(table) == re.findall(r"'(\w+)'", listed[1]), "DEVELOPERS.md and lib/meson.build differ"
    return table


def includes(room_of):
    for path in sorted(SOURCE.glob("lib/*/*.[ch]")):
        for name in re.findall(r'#include "([^"]+)"', path.read_text()):
            if name in room_of:
                yield path.parent.name, room_of[name], f"{path.name} includes {name}"


def calls():
    """By the symbols of the objects: who defines, who needs."""
    defined, needed = {}, []
    objects = sorted(OBJECTS.glob("*.o"))
    assert len(objects) > 100, f"no objects in {OBJECTS}"
    text = subprocess.run(["nm", "-A", *objects], check=True, capture_output=True, text=True).stdout
    for line in text.splitlines():
        where, symbol = line.split(":", 1)
        path, (*_, kind, name) = pathlib.Path(where), symbol.split()
        room = path.name.split("_")[0]
        if kind == "U":
            needed.append((room, name, path.name))
        elif kind in "TDBR":
            defined[name] = room
    return [(room, defined[name], f"{where} uses {name}") for room, name, where in needed
            if name in defined]


def main():
    rooms = allowed()
    order = list(rooms)
    faults = [f"{room} may use {used}, which does not stand before it" for room in order
              for used in rooms[room] if used not in order[:order.index(room)]]
    paths = [path for path in SOURCE.glob("lib/*/*.[ch]") if path.parent.name in rooms]
    room_of = {path.name: path.parent.name for path in paths}
    if len(room_of) != len(paths):
        faults.append("two files have one name: an include would find either")
    edges = list(includes(room_of)) + calls()
    faults += sorted({f"{room} may not use {used}: {how}" for room, used, how in edges
                      if room != used and used not in rooms[room]})
    seen = {(room, used) for room, used, _ in edges}
    faults += [f"{room} does not use {used} any more: take it out of the table"
               for room in order for used in rooms[room] if (room, used) not in seen]
    print("\n".join(faults) or f"{len(edges)} uses, all in order")
    return 1 if faults else 0


sys.exit(main())
