"""What every editor is asked to do: open the river listener, change a value, meet a slip of the pen, mend it; look at a part, go to where
it is, lay the design out.

The hints that an editor must show at each step are what `stagewright show --format json` prints for the same text, and the problems
are what `stagewright check --format json` prints. The layout is what `stagewright format` makes of it.
"""

import hashlib
import json
import os
import re
import shlex
import shutil
import subprocess
import sys
from dataclasses import asdict, dataclass
from pathlib import Path

sys.path[:0] = [str(Path(__file__).resolve().parent.parent), str(Path(__file__).resolve().parent)]
import record
import tools

# The design that the editors open; a test of the tests can name another.
EXAMPLE = Path(os.environ.get("STAGEWRIGHT_EXAMPLE") or tools.ROOT / "examples" / "river-listener.stage")
# The resistor whose value is edited: it sets the gain of the first amplifier, so that many hints follow.
PART = re.compile(r"(?<![\w.])R3 (\S+)")


@dataclass
class Step:
    """One state of the text and what an editor has to show for it."""

    name: str
    # The line that is replaced (from 0) and what it is replaced by; None for the text as it stands in the file.
    line: int | None
    text: str | None
    # [line from 1, label] in order; None where the text has a slip, since an editor then goes on showing the last good figures.
    hints: list | None
    # [line from 1, message] in order.
    problems: list


@dataclass
class Place:
    """A place in the text of the file, counted from 0."""

    line: int
    column: int


class Case:
    """A copy of the example in an empty folder, the steps to take with it, and what is asked at its places."""

    def __init__(self, editor: str):
        self.folder = tools.TARGET / "test-logs" / editor
        shutil.rmtree(self.folder, ignore_errors=True)
        self.workspace = self.folder / "workspace"
        self.workspace.mkdir(parents=True)
        self.file = self.workspace / EXAMPLE.name
        shutil.copyfile(EXAMPLE, self.file)

        lines = self.file.read_text().splitlines()
        at = next(number for number, line in enumerate(lines) if PART.search(line.split("#")[0]))
        old = PART.search(lines[at])[1]
        assert old != "3k3", "the edit has to change something"

        def step(name, value=None, slip=False):
            text = lines[at] if value is None else PART.sub(f"R3 {value}", lines[at], count=1)
            whole = "\n".join([*lines[:at], text, *lines[at + 1 :]]) + "\n"
            hints = None if slip else self.printed("show", "hints", "label", whole)
            return Step(name, None if value is None else at, text, hints, self.printed("check", "problems", "message", whole))

        self.steps = [
            step("the file as it stands"),
            step("another value", "3k3"),
            step("a decimal comma", "1,5k", slip=True),
            step("the comma mended", "1.5k"),
            step("the first value again", old),
        ]
        first, second, slip = self.steps[:3]
        assert len(first.hints) >= 5, f"the example has {len(first.hints)} hints only"
        assert first.hints != second.hints, "the edit changes no hint: the test could not tell whether they follow"
        assert any(line == at + 1 for line, _ in slip.problems), f"the program tells nothing of the slip: {slip.problems}"
        assert slip.problems != first.problems

        # Hovering over the part tells its name and value, and its name in a formula leads to it.
        self.part = Place(at, lines[at].index("R3"))
        self.told = f"R3, {old.replace('k', ' kΩ')}"
        formula = next(number for number, line in enumerate(lines) if re.search(r"^  \S.*=.*\bR3\b", line) and number > at)
        self.mention = Place(formula, re.search(r"\bR3\b", lines[formula]).start())
        # The same line as a hurried person leaves it, and how the program lays it out.
        self.untidy = lines[at].replace(" --", "--   ").replace("    ", "  ", 1)
        self.tidy = self.laid_out("\n".join([*lines[:at], self.untidy, *lines[at + 1 :]]) + "\n").splitlines()
        assert self.tidy[at] != self.untidy and len(self.tidy) == len(lines), "there is nothing to lay out"

    def environment(self, grammar: Path | None = None) -> dict:
        """The environment of a clean editor: a home of its own with the repository in it, as the pages of the editors have it, and a
        `stagewright` on the search path that writes down what it and the editor say. The folder of the tree-sitter grammar may be one
        in which the grammar is made already."""
        home, programs = self.folder / "home", self.folder / "bin"
        (home / "stagewright" / "editors").mkdir(parents=True)
        programs.mkdir()
        for folder in (tools.ROOT / "editors").iterdir():
            place = home / "stagewright" / "editors" / folder.name
            place.symlink_to(grammar if grammar and folder.name == "tree-sitter-stage" else folder)
        # Copies, since an editor may live where other folders of this machine are not seen.
        copied = [shutil.copy2(program, programs / name) for program, name in ((tools.recorder(), "recorder"), (tools.program(), "program"))]
        command = " ".join(shlex.quote(str(word)) for word in (copied[0], self.record, copied[1]))
        (programs / "stagewright").write_text(f'#!/bin/sh\nexec {command} "$@"\n')
        (programs / "stagewright").chmod(0o755)
        inherited = {name: value for name, value in os.environ.items() if not name.startswith(("XDG_", "VSCODE_", "EMACS", "NVIM", "VIM"))}
        return {**inherited, "HOME": str(home), "PATH": f"{programs}{os.pathsep}{os.environ['PATH']}", "LANG": "C.UTF-8"}

    @property
    def record(self) -> Path:
        """What the editor and the server said."""
        return self.folder / "session.jsonl"

    def laid_out(self, text: str) -> str:
        """A text in the program's layout."""
        done = subprocess.run([tools.program(), "format", "-"], input=text, capture_output=True, text=True, timeout=60)
        if done.returncode:
            raise SystemExit(f"stagewright format ended with {done.returncode}: {done.stderr}")
        return done.stdout

    def printed(self, command: str, what: str, text_field: str, text: str) -> list:
        """What the program itself prints for a text, as [line, text] in order. `check` takes seconds over tolerance, and every editor
        asks the same, so what this very program has said of this very text is kept."""
        asked = hashlib.sha256(b"\0".join([tools.program().read_bytes(), command.encode(), text.encode()])).hexdigest()
        kept = tools.TARGET / "test-logs" / "said" / f"{asked}.json"
        if kept.exists():
            return json.loads(kept.read_text())
        path = self.folder / EXAMPLE.name
        path.write_text(text)
        done = subprocess.run([tools.program(), command, "--format", "json", path], capture_output=True, text=True, timeout=60)
        # `check` ends with 1 where there are problems.
        if done.returncode > (command == "check"):
            raise SystemExit(f"stagewright {command} ended with {done.returncode}: {done.stderr}")
        said = sorted([item["line"], item[text_field]] for item in json.loads(done.stdout)[what])
        kept.parent.mkdir(exist_ok=True)
        kept.write_text(json.dumps(said))
        return said

    def write_steps(self) -> Path:
        """The steps as a file for the script that runs inside of the editor."""
        path = self.folder / "steps.json"
        path.write_text(json.dumps([asdict(step) for step in self.steps]))
        return path

    def write_questions(self) -> Path:
        """What is asked beside the steps, as a file for that script."""
        path = self.folder / "questions.json"
        path.write_text(json.dumps({"part": asdict(self.part), "mention": asdict(self.mention), "untidy": self.untidy}))
        return path

    def wrong_answers(self, answers: dict, formats: bool = True) -> list:
        """What is wrong with an editor's `hover`, `definition` (line from 0) and `formatted` (lines)."""
        wrong = []
        if self.told not in answers["hover"]:
            wrong.append(f"hovering over R3 told “{answers['hover']}”, without “{self.told}”")
        if answers["definition"] != self.part.line:
            wrong.append(f"R3 in a formula led to line {answers['definition']}, and it stands in line {self.part.line} (from 0)")
        if formats and answers["formatted"] != self.tidy:
            wrong.append(f"the layout is {answers['formatted']}")
        return wrong


def commands(page: Path, language: str = "sh") -> list:
    """The pieces of code in a language on the page of an editor, in order."""
    return re.findall(rf"```{language}\n(.*?)```", page.read_text(), re.DOTALL)


def judge(editor: str, case: Case, answers: list, others: list = ()) -> None:
    """Compares what an editor had at each step with what it should have had, and ends the script accordingly. What else was found
    wrong joins in."""
    wrong = [*others, *record.faults(case.record)]
    compared = {"hints": 0, "problems": 0}
    if len(answers) != len(case.steps):
        wrong.append(f"{len(case.steps)} steps were to be taken and {len(answers)} were")
    for step, answer in zip(case.steps, answers):
        for what in compared:
            stated, found = getattr(step, what), answer[what]
            if stated is not None:
                compared[what] += len(stated)
                wrong += [f"{step.name}, line {line}: “{text}” is not among the {what}" for line, text in stated if [line, text] not in found]
                wrong += [f"{step.name}, line {line}: “{text}” is among the {what}" for line, text in found if [line, text] not in stated]
                if len(stated) != len(found):
                    wrong.append(f"{step.name}: {len(found)} {what} in place of {len(stated)}")
    print("".join(f"{fault}\n" for fault in wrong), end="")
    print(f"{editor}: {len(answers)} steps, {compared['hints']} hints and {compared['problems']} problems compared, {len(wrong)} differences")
    sys.exit(1 if wrong or not all(compared.values()) else 0)


def seen(case: Case, step: Step, rows: list, told: bool = False) -> list:
    """What is wrong with the rows of a screen that show the whole design: each line has its hints and nothing else (but its messages,
    where the editor writes them into the line)."""
    text = step_text(case, step)
    wrong, below = [], 0
    for number, line in enumerate(text):
        labels = [label for at, label in [*step.hints, *(step.problems if told else [])] if at == number + 1]
        found = next((at for at in range(below, len(rows)) if _shows(rows[at], line, labels)), None)
        if found is None:
            like = next((row for row in rows if line.strip() and squeezed(line)[:12] in squeezed(row)), "nothing like it")
            wrong.append(f"{step.name}, line {number + 1}: “{line}” with {labels} is not seen, but “{like.strip()}”")
        else:
            below = found + 1
    return wrong


def _shows(row: str, line: str, labels: list) -> bool:
    for label in sorted(labels, key=len, reverse=True):
        if label not in row:
            return False
        row = row.replace(label, "", 1)
    return squeezed(row) == squeezed(line)


def squeezed(text: str) -> str:
    """A text without its blanks, and without the frames of windows."""
    return re.sub(r"[\s│┃║╭╮╰╯─━┌┐└┘~▏▕]+", "", text)


def hints_in_place(case: Case, step: Step, rows: list) -> list:
    """Which hints of a step do not stand on their line in the rows of text that a person sees."""
    text = step_text(case, step)
    by_line = {}
    for line, label in step.hints:
        by_line.setdefault(line, []).append(label)

    def squeezed(row):
        return "".join(row.split())

    missing = []
    for line, labels in by_line.items():
        # A row that is the line of the file once its hints are taken out.
        def is_the_line(row):
            for label in labels:
                if label not in row:
                    return False
                row = row.replace(label, "", 1)
            return squeezed(row) == squeezed(text[line - 1])

        if not any(is_the_line(row) for row in rows):
            missing.append(f"{step.name}, line {line}: {labels} not seen in “{text[line - 1].strip()}”")
    return missing


def step_text(case: Case, step: Step) -> list:
    """The lines of the text at a step."""
    lines = case.file.read_text().splitlines()
    if step.line is not None:
        lines[step.line] = step.text
    return lines
