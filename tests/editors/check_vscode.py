"""VS Code in a clean profile with the packed extension: do its hints and problems say what the program says, and do they follow?

The steps of case.py are typed into the editor's page. What the editor's own providers return is compared with the program, and so is
what the page shows. A picture of each step is kept beside the log.
"""

import json
import sys
from pathlib import Path

from case import Case, hints_in_place, judge, tools
from vscode_editor import Editor

HERE = Path(__file__).resolve().parent / "vscode"


def probe(folder: Path) -> Path:
    """The extension that reads the editor's providers, packed."""
    packed = folder / "probe.vsix"
    command = tools.ROOT / "editors" / "vscode" / "node_modules" / "@vscode" / "vsce" / "vsce"
    tools.run(
        [tools.node(), command, "package", "--no-dependencies", "--allow-missing-repository", "--skip-license", "--out", packed],
        cwd=HERE / "probe",
        env=tools.node_environment(),
    )
    return packed


def main():
    case = Case("vscode")
    answers = case.folder / "answers.json"
    lines = len(case.file.read_text().splitlines())
    case.environment()
    with Editor(case.folder, tools.extension(), probe(case.folder), program=case.folder / "bin" / "stagewright") as editor:
        questions = case.write_questions()
        pictures = case.folder / "step"
        editor.drive(
            HERE / "session.mjs", steps=case.write_steps(), questions=questions, file=case.file, answers=answers, pictures=pictures, lines=lines
        )
    found = json.loads(answers.read_text())
    print(f"VS Code {found['editor']}")
    wrong = case.wrong_answers(found["asked"])
    for step, answer in zip(case.steps, found["answers"]):
        print(f"{step.name}: {len(answer['hints'])} hints, {len(answer['problems'])} problems, {answer['marks']} places underlined on the page")
        if step.hints is not None:
            wrong += hints_in_place(case, step, answer["page"])
        if bool(step.problems) != bool(answer["marks"]):
            wrong.append(f"{step.name}: {answer['marks']} places are underlined, and there are {len(step.problems)} problems")
    if wrong:
        print(*wrong, "the page at the first step:", *found["answers"][0]["page"], sep="\n")
        sys.exit(1)
    judge("VS Code", case, found["answers"])


if __name__ == "__main__":
    main()
