"""Vim 9 with YouCompleteMe, from a clean start: do its hints and problems say what the program says, and do they follow the text?

The set-up is the one of editors/vim/README.md, read from there. The steps of case.py are taken by its keys, and its screen is read.
"""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
from case import Case, Place, commands, tools
from session import Keys, run
from terminal import Terminal


class Vim(Keys):
    """Its keys."""

    def rows(self):
        # Left of the text stand the signs.
        return [row[2:] for row in self.terminal.rows()]

    def command(self, text, pause=0.3):
        self.terminal.press("escape", pause=0.1)
        self.terminal.press(f":{text}", "enter", pause=pause)

    def change(self, place, length, text):
        self.go(place)
        self.terminal.press(f"{length}s" if length else "i", pause=0.1)
        self.terminal.type(text)
        self.terminal.press("escape")

    def go(self, place: Place):
        self.command(f"call cursor({place.line + 1}, {place.column + 1})")

    def hover(self):
        # A plug's name cannot be typed.
        self.command(r'execute "normal \<Plug>(YCMHover)"', pause=0.5)

    def problems(self):
        # The list holds what the client had when it was opened.
        self.terminal.draw(1.5)
        self.command("YcmDiags", pause=1)

    def dismiss(self):
        self.command("lclose")

    def definition(self):
        self.command("YcmCompleter GoTo", pause=1)

    def at_line(self, line):
        return any(f" {line + 1}," in row for row in self.terminal.rows()[-2:])

    def format(self):
        self.command("YcmCompleter Format", pause=1)
        self.command("write")

    def leave(self):
        self.command("qall!")


def main():
    case = Case("vim")
    home = case.environment()
    # The page's lines, and what a test needs: all of the text on the screen, and nothing over it or beside the file.
    plain = "set noswapfile ruler nowrap signcolumn=yes\nlet g:ycm_auto_hover = ''\n"
    (case.folder / "home" / ".vimrc").write_text(commands(tools.ROOT / "editors" / "vim" / "README.md", "vim")[0] + plain)
    with Terminal([*tools.vim(), case.file], home, case.workspace, lines=100) as terminal:
        run("Vim", case, Vim(case, terminal))


if __name__ == "__main__":
    main()
