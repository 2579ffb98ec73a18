"""Helix, from a clean start: do its hints and problems say what the program says, and do they follow the text?

The set-up is the one of editors/helix/README.md, run from there. The steps of case.py are taken by its keys, and its screen is read.
"""

import subprocess

from case import Case, Place, commands, tools
from session import Keys, run
from terminal import Terminal

PAGE = tools.ROOT / "editors" / "helix" / "README.md"


class Helix(Keys):
    """Its keys."""

    tells_in_line = True

    def rows(self):
        # Left of the text stand marks, a line's number and a bar of changes.
        return [row[7:] for row in self.terminal.rows()]

    def change(self, place, length, text):
        self.go(place)
        self.terminal.press("i" if length == 0 else "c" if length == 1 else f"v{length - 1}lc")
        # Helix 25.01 sends what is typed within a millisecond in another order than it was typed.
        self.terminal.type(text)
        self.terminal.press("escape")

    def go(self, place: Place):
        self.terminal.press("escape", f"{place.line + 1}G", "gh", *([f"{place.column}l"] if place.column else []))

    def hover(self):
        self.terminal.press(" k")

    def definition(self):
        self.terminal.press("gd")

    def at_line(self, line):
        return any(f" {line + 1}:" in row for row in self.terminal.rows()[-3:])

    def format(self):
        self.terminal.press("escape", ":format", "enter", pause=0.5)
        self.terminal.press(":write", "enter")

    def leave(self):
        self.terminal.press("escape", ":quit!", "enter", pause=0.5)


def main():
    case = Case("helix")
    home = case.environment(tools.tree_sitter_grammar())
    install, made, colours = commands(PAGE)
    assert "tree-sitter generate" in made, made
    subprocess.run(["sh", "-ec", install + colours], env=home, check=True)
    with Terminal([*tools.helix(), case.file], home, case.workspace) as terminal:
        run("Helix", case, Helix(case, terminal))


if __name__ == "__main__":
    main()
