"""Kakoune with kak-lsp, from a clean start: do its hints and problems say what the program says, and do they follow the text?

The set-up is the one of editors/kakoune/README.md, read from there. The steps of case.py are taken by its keys, and its screen is read.
"""

import shutil
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
from case import Case, Place, commands, tools
from session import Keys, run
from terminal import Terminal


class Kakoune(Keys):
    """Its keys."""

    tells_in_line = True

    def rows(self):
        # Left of a line that a message speaks of stands a mark, and one between the line and the message.
        return [row[1:].replace("■", "") for row in self.terminal.rows()]

    def command(self, text, pause=0.3):
        self.terminal.press("escape", pause=0.2)
        self.terminal.press(f":{text}", "enter", pause=pause)

    def change(self, place, length, text):
        self.go(place)
        self.terminal.press("i" if length == 0 else "c" if length == 1 else f"{length - 1}Lc", pause=0.2)
        self.terminal.type(text)
        self.terminal.press("escape")

    def go(self, place: Place):
        self.command(f"edit {self.case.file} {place.line + 1} {place.column + 1}")

    def hover(self):
        self.command("lsp-hover", pause=0.5)

    def problems(self):
        pass

    def definition(self):
        self.command("lsp-definition", pause=0.5)

    def at_line(self, line):
        return any(f" {line + 1}:" in row for row in self.terminal.rows()[-2:])

    def format(self):
        self.command("lsp-formatting-sync", pause=0.5)
        self.command("write")

    def leave(self):
        self.command("quit!")


def main():
    case = Case("kakoune")
    home = case.environment()
    shutil.copy2(tools.kak_lsp(), case.folder / "bin")
    config = case.folder / "home" / ".config" / "kak"
    config.mkdir(parents=True)
    (config / "kakrc").write_text(commands(tools.ROOT / "editors" / "kakoune" / "README.md", "kak")[0])
    runtime = case.folder / "runtime"
    runtime.mkdir(mode=0o700)
    with Terminal([*tools.kakoune(), case.file], {**home, "XDG_RUNTIME_DIR": str(runtime)}, case.workspace, columns=260) as terminal:
        # Words of the same class in one colour, words of another in another; which, is the colour scheme's affair.
        terminal.shows(case.steps[0].hints[0][1])
        classes = {"heading": ["design ", "require"], "part": ["R1 ", "VR1 50k", "C3, C4"], "figure": ["10M", "22u"], "entry": ["tolerance"]}
        colours = {name: {terminal.colour(text) for text in texts} for name, texts in classes.items()}
        print(f"colours: {colours}")
        if any(len(found) != 1 for found in colours.values()) or len(set.union(*colours.values())) < 3:
            raise SystemExit("the notation is not highlighted")
        run("Kakoune", case, Kakoune(case, terminal))


if __name__ == "__main__":
    main()
