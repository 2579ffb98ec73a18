"""What every editor is asked to do: open the river listener, change a value, meet a slip of the pen, mend it.

The hints that an editor must show at each step are what `stagewright show --format json` prints for the same text.
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
    # (line from 1, label) in order; None where the step is about problems alone.
    hints: list | None
    # Whether a problem has to be told on that line. False: the problems are those of the file as it stands.
    problem: bool


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

        def step(name, value, problem=False, hints=True):
            text = PART.sub(f"R3 {value}", lines[at], count=1)
            whole = "\n".join([*lines[:at], text, *lines[at + 1 :]]) + "\n"
            return Step(name, at, text, self.shown(whole) if hints else None, problem)

        self.steps = [
            Step("the file as it stands", None, None, self.shown(self.file.read_text()), False),
            step("another value", "3k3"),
            step("a decimal comma", "1,5k", problem=True, hints=False),
            step("the comma mended", "1.5k"),
            step("the first value again", old),
        ]
        first, second = self.steps[0].hints, self.steps[1].hints
        assert len(first) >= 5, f"the example has {len(first)} hints only"
        assert first != second, "the edit changes no hint: the test could not tell whether they follow"
        assert self.steps[-1].hints == first

    def shown(self, text: str) -> list:
        """The hints that the program itself prints for a text."""
        path = self.folder / EXAMPLE.name
        path.write_text(text)
        done = subprocess.run([tools.program(), "show", "--format", "json", path], capture_output=True, text=True, timeout=60)
        if done.returncode:
            raise SystemExit(f"stagewright show ended with {done.returncode}: {done.stderr}")
        return sorted([hint["line"], hint["label"]] for hint in json.loads(done.stdout)["hints"])

    def write_steps(self) -> Path:
        """The steps as a file for the script that runs inside of the editor."""
        path = self.folder / "steps.json"
        path.write_text(json.dumps([asdict(step) for step in self.steps]))
        return path


def judge(editor: str, case: Case, answers: list) -> None:
    """Compares what an editor had at each step with what it should have had, and ends the script accordingly."""
    wrong = []
    compared = 0
    if len(answers) != len(case.steps):
        wrong.append(f"{len(case.steps)} steps were to be taken and {len(answers)} were")
    before = answers[0]["problems"] if answers else []
    for step, answer in zip(case.steps, answers):
        if step.hints is not None:
            compared += len(step.hints)
            found = sorted(answer["hints"])
            wrong += [f"{step.name}: line {line} should show “{label}”" for line, label in step.hints if [line, label] not in found]
            wrong += [f"{step.name}: line {line} shows “{label}”" for line, label in found if [line, label] not in step.hints]
        here = [message for line, message in answer["problems"] if line - 1 == step.line]
        if step.problem and not here:
            wrong.append(f"{step.name}: no problem is told on line {step.line + 1}; all problems: {answer['problems']}")
        if not step.problem and answer["problems"] != before:
            wrong.append(f"{step.name}: the problems are {answer['problems']} and were {before}")
    print("".join(f"{fault}\n" for fault in wrong), end="")
    print(f"{editor}: {len(answers)} steps, {compared} hints compared, {len(wrong)} differences")
    sys.exit(1 if wrong or not compared else 0)
