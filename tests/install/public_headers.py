# SPDX-License-Identifier: MIT
"""What the installed headers declare."""
import pathlib
import re


def declared_functions(text):
    """The functions that a header declares without defining them."""
    text = re.sub(r"/\*.*?\*/", " ", text, flags=re.S)
    text = re.sub(r'"(\\.|[^"\\])*"', '""', text)
    text = re.sub(r"^\s*#(.*\\\n)*.*$", " ", text, flags=re.M)
    text = text.replace('extern "" {', " ")
    outside, depth = [], 0
    for char in text:
        if char == "{":
            depth += 1
        elif char == "}":
            depth -= 1
            outside.append("{}")
        elif depth <= 0:
            outside.append(char)
    names = set()
    for statement in re.split(r";|(?<=\))\s*\{\}", "".join(outside)):
        if "typedef" in statement or "static inline" in statement:
            continue
        statement = re.sub(r"__attribute__\s*\(\(.*?\)\)\)?", " ", statement)
        match = re.search(r"\b(nod_\w+)\s*\(", statement)
        if match:
            names.add(match.group(1))
    return names


def declared_in(directory):
    return {name for path in sorted(pathlib.Path(directory).glob("*.h"))
            for name in declared_functions(path.read_text())}
