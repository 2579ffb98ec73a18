"""Neovim, from a clean start: do its hints and problems say what the program says, and do they follow the text?

The set-up is the one of editors/neovim/README.md, read from there. First the steps of case.py are taken inside of the editor; then the
editor is started in a terminal and the screen is read.
"""

import json
import os
import re
import subprocess
from pathlib import Path

from case import Case, hints_in_place, judge, tools

HERE = Path(__file__).resolve().parent / "neovim"
PLUGIN = tools.ROOT / "editors" / "neovim"


def set_up(folder: Path) -> Path:
    """The lines of the plugin's page as an init.lua, with this machine's paths in them."""
    page = (PLUGIN / "README.md").read_text()
    lines = re.search(r"```lua\n(.*?)```", page, re.DOTALL)[1]
    assert "~/stagewright/editors/neovim" in lines and "~/stagewright/target/release/stagewright" in lines, lines
    lines = lines.replace("~/stagewright/editors/neovim", str(PLUGIN))
    lines = lines.replace("~/stagewright/target/release/stagewright", str(tools.program()))
    path = folder / "init.lua"
    path.write_text(lines)
    return path


def main():
    case = Case("neovim")
    init = set_up(case.folder)
    home = {name: str(case.folder / name.lower()) for name in ("XDG_CONFIG_HOME", "XDG_DATA_HOME", "XDG_STATE_HOME", "XDG_CACHE_HOME")}
    answers = case.folder / "answers.json"
    environment = {**os.environ, **home, "STEPS": str(case.write_steps()), "ANSWERS": str(answers)}
    editor = [str(tools.neovim()), "--clean", "-u", str(init), "-i", "NONE", "-n"]

    subprocess.run([*editor, "--headless", case.file, "-c", f"luafile {HERE / 'session.lua'}"], env=environment, timeout=120)
    found = json.loads(answers.read_text())
    if "fault" in found:
        raise SystemExit(found["fault"])
    found = found["answers"]
    for answer in found:
        soon = f", the hints after {answer['milliseconds']:.0f} ms" if "milliseconds" in answer else ""
        print(f"{answer['name']}: {len(answer['hints'])} hints, {len(answer['problems'])} problems{soon}")

    slip = next(answer for answer in found if "mended" in answer)
    if "1.5k" not in slip["mended"]:
        raise SystemExit(f"the quick fix for 1,5k left the line as {slip['mended']}")
    on_screen(case, editor, environment)
    judge("Neovim", case, found)


def on_screen(case, editor, environment):
    """Starts the editor with its user interface and looks for each hint on its line."""
    text = case.file.read_text().splitlines()
    hints = case.steps[0].hints
    picture = case.folder / "screen.txt"
    wanted = {"columns": 200, "lines": len(text) + 6, "awaited": hints[0][1], "command": [*editor, str(case.file)]}
    subprocess.run(
        [tools.neovim(), "--clean", "--headless", "-c", f"luafile {HERE / 'screen.lua'}"],
        env={**environment, "SCREEN": json.dumps(wanted), "PICTURE": str(picture)},
        timeout=60,
    )
    screen = picture.read_text().splitlines()
    missing = hints_in_place(case, case.steps[0], screen)
    if missing:
        raise SystemExit("\n".join([*missing, "the screen:", *screen]))
    print(f"{len(hints)} hints seen on the screen of the editor")


if __name__ == "__main__":
    main()
