"""What every editor is asked to do: open the river listener, change a value, meet a slip of the pen, mend it.

The hints that an editor must show at each step are what `stagewright show --format json` prints for the same text, and the problems
are what `stagewright check --format json` prints.
"""

import json
import os
import re
import shutil
import subprocess
import sys
from dataclasses import asdict, dataclass
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
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


class Case:
    """A copy of the example in an empty folder, and the steps to take with it."""

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

    def printed(self, command: str, what: str, text_field: str, text: str) -> list:
        """What the program itself prints for a text, as [line, text] in order."""
        path = self.folder / EXAMPLE.name
        path.write_text(text)
        done = subprocess.run([tools.program(), command, "--format", "json", path], capture_output=True, text=True, timeout=60)
        # `check` ends with 1 where there are problems.
        if done.returncode > (command == "check"):
            raise SystemExit(f"stagewright {command} ended with {done.returncode}: {done.stderr}")
        return sorted([item["line"], item[text_field]] for item in json.loads(done.stdout)[what])

    def write_steps(self) -> Path:
        """The steps as a file for the script that runs inside of the editor."""
        path = self.folder / "steps.json"
        path.write_text(json.dumps([asdict(step) for step in self.steps]))
        return path


def judge(editor: str, case: Case, answers: list) -> None:
    """Compares what an editor had at each step with what it should have had, and ends the script accordingly."""
    wrong = []
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
