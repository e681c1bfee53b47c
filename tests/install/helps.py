# SPDX-License-Identifier: MIT
"""What the programs say of themselves with --help."""
import re

from installed import run

# Commands with commands of their own.
NESTED = {"vehicle": ["check", "draft", "learn", "import"], "session": ["make", "show", "mark", "cut", "join"],
          "current": ["show", "import"]}


def commands(program):
    """Every command as a tuple of words, as `nodoff --help` lists them."""
    names = re.findall(r"^  (\w+) +\S", run(program, "--help"), flags=re.M)
    return [(name, *rest) for name in names
            for rest in ([(word,) for word in NESTED[name]] if name in NESTED else [()])]


def options(text):
    """The options of a help text: {"--json": "-j", "--strict": None, ...}."""
    found = re.findall(r"^ {2,6}(?:(-\w), )?(--[a-z-]+)", text, flags=re.M)
    return {long: short or None for short, long in found}


def command_options(program, command):
    return options(run(program, *command, "--help"))
