"""Emacs, from a clean start: do its hints and problems say what the program says, and do they follow the text?

The set-up is the one of editors/emacs/README.md, read from there; the mode has to compile without a word. First the steps of case.py are
taken inside of the editor; then the editor is started once more and its screen is read.
"""

import json
import re
from pathlib import Path

from case import Case, judge, seen, tools
from terminal import Terminal

HERE = Path(__file__).resolve().parent / "emacs"
MODE = tools.ROOT / "editors" / "emacs"


def main():
    case = Case("emacs")
    home = case.environment()
    init = case.folder / "init.el"
    init.write_text(re.search(r"```elisp\n(.*?)```", (MODE / "README.md").read_text(), re.DOTALL)[1])
    tools.run([*tools.emacs(), "-Q", "--batch", "-l", HERE / "clean.el", MODE / "stage-mode.el", case.folder / "stage-mode.elc"], env=home)

    answers = case.folder / "answers.json"
    asked = {"STEPS": str(case.write_steps()), "QUESTIONS": str(case.write_questions()), "ANSWERS": str(answers)}
    editor = [*tools.emacs(), "-Q", "-nw", "-l", init, case.file]
    with Terminal([*editor, "-l", HERE / "session.el"], {**home, **asked}, case.workspace) as terminal:
        if not terminal.left(120) or not answers.exists():
            raise SystemExit(f"the session did not end:\n{terminal.text()}")
    found = json.loads(answers.read_text())
    if "fault" in found:
        raise SystemExit(found["fault"])
    for answer in found["steps"]:
        soon = f", the hints after {answer['milliseconds']:.0f} ms" if answer["milliseconds"] > 0 else ""
        print(f"{answer['name']}: {len(answer['hints'])} hints, {len(answer['problems'])} problems{soon}")
    wrong = case.wrong_answers(found)
    stages = re.findall(r"^stage (\w+)", case.file.read_text(), re.MULTILINE)
    wrong += [f"{name} is not in the index {found['index']}" for name in stages if name not in found["index"]]

    with Terminal(editor, home, case.workspace) as terminal:
        first = case.steps[0]
        terminal.until(lambda rows: not seen(case, first, rows))
        wrong += seen(case, first, terminal.rows())
        (case.folder / "screen.txt").write_text(terminal.text())
        terminal.press("\x18\x03", pause=1)
    judge("Emacs", case, found["steps"], wrong)


if __name__ == "__main__":
    main()
