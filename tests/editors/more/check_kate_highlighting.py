"""Does Kate's syntax file colour the notation as the other grammars do (check_highlighting.py)? It is read by the engine that Kate has,
with a theme of a colour for each class."""

import html
import json
import re
import shutil
import subprocess
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
import check_highlighting as highlighting
import tools

# The names of the syntax file, where they are not those of classes.json.
NAMES = {"Heading": "heading", "Entry": "word", "Operator": "op", "Normal": ""}
SYNTAX = tools.ROOT / "editors" / "kate" / "stage.xml"


def read(files, home):
    """The lines of each file as lists of (character, class)."""
    names = re.findall(r'<itemData name="(\w+)"', SYNTAX.read_text())
    colours = {f"#{number:06x}": NAMES.get(name, name.lower()) for number, name in enumerate(names, start=1)}
    styles = {name: {"text-color": colour} for name, colour in zip(names, colours)}
    data = home / "data" / "org.kde.syntax-highlighting"
    for folder in ("syntax", "themes"):
        (data / folder).mkdir(parents=True, exist_ok=True)
    shutil.copy(SYNTAX, data / "syntax")
    default = {"text-color": "#ffffff"}
    theme = {"metadata": {"name": "classes", "revision": 1}, "text-styles": {"Normal": default}, "custom-styles": {"Stage": styles}}
    (data / "themes" / "classes.theme").write_text(json.dumps(theme))
    answer = []
    for file in files:
        command = [*tools.inside(), "env", f"XDG_DATA_HOME={home / 'data'}", "ksyntaxhighlighter6", "-s", "Stage", "-t", "classes", file]
        done = subprocess.run([str(word) for word in command], capture_output=True, text=True, timeout=60)
        body = re.search(r"<pre>\n?(.*?)</pre>", done.stdout, re.DOTALL)
        if done.returncode or not body or done.stderr.strip():
            raise SystemExit(f"{done.stderr}{done.stdout[:500]}")
        lines, colour = [[]], None
        for tag, text in re.findall(r"<(/?span[^>]*)>|([^<]+)", body[1]):
            if tag:
                colour = re.search(r"color:(#\w+)", tag)[1] if tag.startswith("span") else None
            for character in html.unescape(text):
                if character == "\n":
                    lines.append([])
                else:
                    lines[-1].append((character, colours.get(colour, "")))
        answer.append(lines)
    return answer


def main():
    tools.debian("libkf6syntaxhighlighting-tools")
    home = tools.TARGET / "test-logs" / "kate-highlighting"
    shutil.rmtree(home, ignore_errors=True)
    home.mkdir(parents=True)
    designs = sorted(path for folder in ("examples", "crates/circuit/library") for path in (tools.ROOT / folder).rglob("*.stage"))
    stating = {"words": highlighting.fixture(), "lists": highlighting.lists()}
    for name, (design, _) in stating.items():
        (home / f"{name}.stage").write_text("\n".join(design) + "\n")
    found = read([*(home / f"{name}.stage" for name in stating), *designs], home)
    grammar = tools.ROOT / "editors" / "shared" / "stage.tmLanguage.json"
    textmate = highlighting.read([tools.node(), highlighting.HERE / "textmate.mjs", tools.packages(), grammar], designs, "textmate")
    wrong, lines = [], 0
    for number, (design, stated) in enumerate(stating.values()):
        wrong += highlighting.check_lines("Kate", found[number], design, stated)
        lines += len(stated)
    # Each list of lines ends with what stands behind the last line end.
    theirs = [file + [[]] * (len(one) - len(file)) for file, one in zip(textmate, found[len(stating) :])]
    characters, differences = highlighting.check_designs(designs, theirs, "Kate", found[len(stating) :])
    wrong += differences
    print("".join(f"{fault}\n" for fault in wrong), end="")
    print(f"{lines} lines of words, {characters} characters of {len(designs)} designs compared: {len(wrong)} differences")
    sys.exit(1 if wrong or lines < 200 or characters < 1000 else 0)


if __name__ == "__main__":
    main()
