"""Do the two grammars colour the notation by its lexical rules, and alike?

1. Every line of highlighting/words.stage has the classes that the line below it states, read by the engine that editors use for
   TextMate grammars, and read by Neovim with the Vim syntax.
2. On every design of the repository the two agree character by character, no word is left without a class, and nothing is coloured
   as a slip of the pen.
"""

import json
import subprocess
import sys
from itertools import groupby
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
import tools

HERE = Path(__file__).resolve().parent / "highlighting"
CLASSES = json.loads((HERE / "classes.json").read_text())
# A blank inside these belongs to the word.
SPACED = ("comment", "string")


def read(command, files, table):
    """The lines of each file as lists of (character, class)."""
    done = subprocess.run([*map(str, command), *map(str, files)], capture_output=True, text=True, timeout=120)
    if done.returncode:
        raise SystemExit(f"{command[0]} ended with {done.returncode}: {done.stderr}")
    named = {name: kind for kind, names in CLASSES.items() for name in names[table]}
    return [
        [[(character, named.get(name, name)) for character, name in line] for line in lines]
        for lines in json.loads(done.stdout)
    ]


def words(line):
    """The classes along a line, a run of one class counted once."""
    return [kind for kind, _ in groupby(kind for character, kind in line if not character.isspace())]


def fixture():
    """The fixture's design by itself, and what is stated of its lines by their number (from 0) there."""
    design, stated = [], {}
    for line in (HERE / "words.stage").read_text().splitlines():
        if line.startswith("#= "):
            stated[len(design) - 1] = line.removeprefix("#= ").split()
        elif not line.startswith("#: "):
            design.append(line)
    return design, stated


def check_fixture(reader, lines, design, stated):
    """What one reader finds on the fixture's lines and the fixture does not say."""
    return [
        f"{reader}: {design[number].strip()}\n    stated {' '.join(kinds)}\n    found  {' '.join(words(lines[number]))}"
        for number, kinds in stated.items()
        if words(lines[number]) != kinds
    ]


def check_designs(designs, textmate, vim):
    """Compares the two readers on real designs."""
    compared, wrong = 0, []
    known = set(CLASSES)
    for path, ours, theirs in zip(designs, textmate, vim):
        if len(ours) == len(theirs) + 1 and not ours[-1]:
            ours = ours[:-1]
        assert len(ours) == len(theirs), f"{path}: {len(ours)} lines and {len(theirs)} lines"
        for number, (one, other) in enumerate(zip(ours, theirs), start=1):
            one = [pair for pair in one if not pair[0].isspace()]
            other = [pair for pair in other if not pair[0].isspace()]
            compared += len(one)
            if one != other:
                wrong.append(f"{path.name} {number}: {words(one)} by TextMate, {words(other)} by Vim")
            elif odd := sorted({kind for _, kind in one if kind not in known or kind == "slip"}):
                wrong.append(f"{path.name} {number}: {''.join(c for c, _ in one)} holds {odd}")
    return compared, wrong


def main():
    designs = sorted(path for folder in ("examples", "crates/circuit/library") for path in (tools.ROOT / folder).rglob("*.stage"))
    design, stated = fixture()
    bare = tools.TARGET / "test-logs" / "words.stage"
    bare.parent.mkdir(parents=True, exist_ok=True)
    bare.write_text("\n".join(design) + "\n")
    files = [bare, *designs]
    grammar = tools.ROOT / "editors" / "shared" / "stage.tmLanguage.json"
    plugin = tools.ROOT / "editors" / "neovim"
    textmate = read([tools.node(), HERE / "textmate.mjs", tools.packages(), grammar], files, "textmate")
    vim = read([tools.neovim(), "--clean", "--headless", "-l", HERE / "vim.lua", plugin], files, "vim")

    wrong = check_fixture("TextMate", textmate[0], design, stated) + check_fixture("Vim", vim[0], design, stated)
    characters, differences = check_designs(designs, textmate[1:], vim[1:])
    wrong += differences
    print("".join(f"{fault}\n" for fault in wrong), end="")
    print(f"{len(stated)} lines of words read by two grammars, {characters} characters of {len(designs)} designs compared: {len(wrong)} differences")
    if len(stated) < 80 or (designs and characters < 1000):
        sys.exit("too little was compared to say anything")
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
