"""Kate, from a clean start: do the hints and problems that it gets say what the program says, follow the text, and come onto its screen?

The set-up is the one of editors/kate/README.md, run from there; what a person ticks in its settings is written into its file of settings.
After an edit Kate fetches the hints of the edited line, and the others when the design is saved and read anew, as its page says.
Kate lives in a window: keys are pressed and the mouse is moved by xdotool, and the screen is a picture that nobody here can read. So what
Kate was told is taken from what it and the server said to each other, and the picture has to change in as many lines as have another
hint after an edit. The pictures are kept beside the log.
"""

import subprocess
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
import record
from case import Case, commands, judge, tools
from screen import Screen

WIDTH, HEIGHT = 1900, 1420


class Kate(Screen):
    """The editor on a screen of its own; use it in a `with` statement."""

    def __init__(self, case: Case):
        self.case = case
        home = case.environment()
        folder = case.folder / "home"
        subprocess.run(["sh", "-ec", commands(tools.ROOT / "editors" / "kate" / "README.md")[0]], env=home, check=True)
        runtime = case.folder / "runtime"
        runtime.mkdir(mode=0o700)
        (folder / ".config" / "katerc").write_text(
            "[General]\nShow welcome view for new window=false\nStartup Session=new\n"
            "[Kate Plugins]\nlspclientplugin=true\n"
            f"[lspclient]\nInlayHints=true\nDiagnostics=true\nAllowedServerCommandLines={case.folder / 'bin' / 'stagewright'} serve\n"
            "[KTextEditor View]\nDynamic Word Wrap=false\nShow File Path=false\n"
        )
        super().__init__(case.folder, {**home, "QT_QPA_PLATFORM": "xcb", "XDG_RUNTIME_DIR": str(runtime), "NO_AT_BRIDGE": "1"}, WIDTH, HEIGHT)

    def __enter__(self):
        super().__enter__()
        self.start([*tools.kate(), "--block", "-n", self.case.file], self.case.workspace)
        return self

    def full_size(self) -> None:
        """Makes the window as large as the screen."""
        found = self.run("xdotool", "search", "--sync", "--onlyvisible", "--name", self.case.file.name).split()[-1].decode()
        self.run("xdotool", "windowmove", found, 0, 0, "windowsize", found, WIDTH, HEIGHT, "windowfocus", found)
        time.sleep(1.5)

    def replace(self, line: int, text: str) -> None:
        """Puts a text in the place of a line."""
        self.press("ctrl+g")
        self.type(str(line + 1))
        self.press("Return", "End", "shift+Home", "shift+Home", "Delete")
        self.type(text)
        self.press("Escape")

    def asked(self, method: str) -> list:
        """The questions of a kind that Kate has asked so far."""
        return [message for who, message in record.messages(self.case.record) if who == "editor" and message.get("method") == method]

    def point(self, x: float, y: float) -> dict | None:
        """Rests the mouse at a place of the screen; the place in the text of which Kate then asks."""
        before = len(self.asked("textDocument/hover"))
        self.run("xdotool", "mousemove", round(x), round(y))
        time.sleep(0.2)
        self.run("xdotool", "mousemove_relative", "--", 1, 0)
        self.until(lambda: len(self.asked("textDocument/hover")) > before, 4)
        return self.asked("textDocument/hover")[-1]["params"]["position"] if len(self.asked("textDocument/hover")) > before else None

    def spot(self, line: int, column: int) -> tuple:
        """Where on the screen a place of the text is: guessed, and then set right by what Kate asks of there."""
        height, width = 14.0, 7.2
        x, y = 86 + width * (column + 0.5), 101 + height * line
        position = None
        for _ in range(8):
            position = self.point(x, y)
            if position == {"line": line, "character": column}:
                return x, y
            if position is None:
                y += height
            else:
                x, y = x + width * (column - position["character"]), y + height * (line - position["line"])
        raise SystemExit(f"the place {line}:{column} was not found on the screen; last asked was {position}")


def changed_bands(one: bytes, other: bytes) -> int:
    """In how many bands from top to bottom two pictures differ: as many lines of text."""
    rows = [one[at : at + WIDTH] != other[at : at + WIDTH] for at in range(0, min(len(one), len(other)), WIDTH)]
    return sum(1 for before, now in zip([False, *rows], rows) if now and not before)


def main():
    tools.kate()
    case = Case("kate")
    answers, wrong, pictures = [], [], {}
    with Kate(case) as kate:
        if not kate.until(lambda: case.record.exists() and kate.asked("textDocument/didOpen"), 40):
            raise SystemExit("Kate has not opened the design")
        kate.full_size()
        for number, step in enumerate(case.steps, start=1):
            if step.line is not None:
                kate.replace(step.line, step.text)
            kate.until(lambda: record.diagnostics(case.record) == step.problems)
            if step.line is not None and step.hints is not None:
                # Kate asks for the edited line alone. The others stand as they were until the design is read anew.
                own = [hint for hint in step.hints if hint[0] == step.line + 1]
                if not kate.until(lambda: record.hints(case.record) == own):
                    wrong.append(f"{step.name}: the edited line has {record.hints(case.record)} and not {own}")
                kate.press("ctrl+s", "F5")
                kate.until(lambda: record.hints(case.record) == step.hints)
                kate.until(lambda: record.diagnostics(case.record) == step.problems)
            time.sleep(1)
            pictures[number] = kate.picture(f"screen-{number}")
            answers.append({"hints": record.hints(case.record), "problems": record.diagnostics(case.record)})
            print(f"{step.name}: {len(answers[-1]['hints'])} hints, {len(answers[-1]['problems'])} problems", flush=True)
        first, second = ({line: label for line, label in step.hints} for step in case.steps[:2])
        changed = [line for line in first if first[line] != second.get(line)]
        bands = changed_bands(pictures[1], pictures[2])
        print(f"{len(changed)} lines have another hint after the edit, {bands} bands of the picture changed")
        if bands < 0.7 * len(changed):
            wrong.append(f"{len(changed)} lines have another hint after the edit, and {bands} bands of the picture changed")

        asked = {"hover": "", "definition": -1}
        x, y = kate.spot(case.part.line, case.part.column + 1)
        time.sleep(1)
        kate.picture("hover")
        last = kate.asked("textDocument/hover")[-1]["id"]
        reply = next(message for who, message in record.messages(case.record) if who == "server" and message.get("id") == last)
        asked["hover"] = reply["result"]["contents"]["value"]
        x, y = kate.spot(case.mention.line, case.mention.column + 1)
        kate.run("xdotool", "keydown", "ctrl", "mousemove_relative", "--", 1, 0, "sleep", 1, "click", 1, "keyup", "ctrl")
        time.sleep(1)
        # Where the cursor is now, a key tells.
        kate.type("qqq")
        text = lambda: kate.asked("textDocument/didChange")[-1]["params"]["contentChanges"][-1]["text"].splitlines()
        if kate.until(lambda: any("qqq" in line for line in text())):
            asked["definition"] = next(number for number, line in enumerate(text()) if "qqq" in line)
        kate.press("ctrl+z", "ctrl+z", "ctrl+z")
        time.sleep(0.5)
        kate.picture("definition")
        wrong += case.wrong_answers(asked, formats=False)
        kate.press("ctrl+s")
        time.sleep(0.5)
        kate.press("ctrl+q")
        kate.until(lambda: kate.asked("shutdown"), 5)
        time.sleep(0.5)
    judge("Kate", case, answers, wrong)


if __name__ == "__main__":
    main()
