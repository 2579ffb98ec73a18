"""Neovim, from a clean start: do its hints and problems say what the program says, and do they follow the text?

The set-up is the one of editors/neovim/README.md, read from there. First the steps of case.py are taken inside of the editor; then the
editor is started in a terminal and the screen is read.
"""

import json
import subprocess
from pathlib import Path

from case import Case, commands, judge, seen, tools
from terminal import Terminal

HERE = Path(__file__).resolve().parent / "neovim"
PAGE = tools.ROOT / "editors" / "neovim" / "README.md"


def set_up(case: Case) -> Path:
    """The lines of the plugin's page as an init.lua, with the program of this test in them."""
    lines = commands(PAGE, "lua")[0]
    built = "~/stagewright/target/release/stagewright"
    assert "~/stagewright/editors/neovim" in lines and built in lines, lines
    path = case.folder / "init.lua"
    path.write_text(lines.replace(built, str(case.folder / "bin" / "stagewright")))
    return path


def main(neovim: list, version: str):
    case = Case(f"neovim-{version}")
    home = case.environment()
    init = set_up(case)
    answers = case.folder / "answers.json"
    asked = {"STEPS": str(case.write_steps()), "QUESTIONS": str(case.write_questions()), "ANSWERS": str(answers)}
    editor = [*map(str, neovim), "--clean", "-u", str(init), "-i", "NONE", "-n"]

    subprocess.run([*editor, "--headless", case.file, "-c", f"luafile {HERE / 'session.lua'}"], env={**home, **asked}, timeout=120)
    found = json.loads(answers.read_text())
    if "fault" in found:
        raise SystemExit(found["fault"])
    print(f"Neovim {found['version']}")
    if not found["version"].startswith(version):
        raise SystemExit(f"this is not {version}")
    for answer in found["answers"]:
        soon = f", the hints after {answer['milliseconds']:.0f} ms" if "milliseconds" in answer else ""
        print(f"{answer['name']}: {len(answer['hints'])} hints, {len(answer['problems'])} problems{soon}")

    slip = next(answer for answer in found["answers"] if "mended" in answer)
    if "1.5k" not in slip["mended"]:
        raise SystemExit(f"the quick fix for 1,5k left the line as {slip['mended']}")
    wrong = case.wrong_answers(found["asked"])

    with Terminal([*editor, case.file], home, case.workspace) as terminal:
        first = case.steps[0]
        terminal.until(lambda rows: not seen(case, first, rows))
        wrong += seen(case, first, terminal.rows())
        (case.folder / "screen.txt").write_text(terminal.text() + "\n")
        terminal.press("escape", ":qall!", "enter")
    judge("Neovim", case, found["answers"], wrong)


if __name__ == "__main__":
    main([tools.neovim()], "0.11")
