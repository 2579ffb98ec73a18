"""Do the grammars for editors colour the notation by its lexical rules, and alike?

1. Every line of highlighting/words.stage has the classes that the line below it states, read by the engine that editors use for
   TextMate grammars, read by Neovim with the Vim syntax, and read by Emacs with its mode.
2. Each word of the closed lists that the parser has (crates/notation/src/word.rs) has its class where it may stand.
3. On every design of the repository they agree character by character, no word is left without a class, and nothing is coloured
   as a slip of the pen.
"""

import json
import re
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
    named = {name: kind for kind, names in CLASSES.items() for name in names[table]} if table else {}
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


def closed_list(name):
    """The words of one of the parser's lists."""
    source = (tools.ROOT / "crates" / "notation" / "src" / "word.rs").read_text()
    body = re.search(rf"pub const {name}: [^=]*=\s*&\[(.*?)\];", source, re.DOTALL)
    words = re.findall(r'(?:^|[\s(\[])"([^"]+)"', re.sub(r'\("([^"]+)",[^)]*\)', r'"\1" ', body[1]))
    assert len(words) > 3, f"{name} was not read: {words}"
    return words


def lists():
    """A design with every word of the parser's lists at a place where it may stand, and what is stated of its lines."""
    design, stated = [], {}

    def line(text, classes):
        stated[len(design)] = classes.split()
        design.append(text)

    line("stage words: a -> b", "heading label mark name op name")
    for word in (*closed_list("ATTRIBUTES"), "log15", "revlog20"):
        line(f"  a -- R1 1k {word} -- {word}", "name op part figure attribute op name")
    for word, word_class in (("design", "word"), *((word, "word") for word in closed_list("DESIGN_WORDS"))):
        line(f"  {word} x" if word != "design" else "design", f"{word_class} name" if word != "design" else "heading")
    line("require", "heading")
    for word in closed_list("PHRASES"):
        line(f"  {word} of a", "reading clause name")
        line(f"  {word} {word.split()[0]} -> b", "reading name op name")
    for word in closed_list("CLAUSE_WORDS"):
        line(f"  gain a -> b {word} c", "reading name op name clause name")
    line("let", "heading")
    for word in closed_list("FUNCTIONS"):
        line(f"  a = {word}(b) + {word}", "name op function mark name mark op name")
    for word in closed_list("EXPRESSION_NAMES"):
        line(f"  a = {word} + b", "name op constant op name")
    for word in closed_list("HEADING_WORDS"):
        line(word, "heading")
    return design, stated


def check_lines(reader, lines, design, stated):
    """What one reader finds on the lines and what is not stated of them."""
    return [
        f"{reader}: {design[number].strip()}\n    stated {' '.join(kinds)}\n    found  {' '.join(words(lines[number]))}"
        for number, kinds in stated.items()
        if words(lines[number]) != kinds
    ]


def check_designs(designs, textmate, reader, others):
    """Compares two readers on real designs."""
    compared, wrong = 0, []
    known = set(CLASSES)
    for path, ours, theirs in zip(designs, textmate, others):
        if len(ours) == len(theirs) + 1 and not ours[-1]:
            ours = ours[:-1]
        assert len(ours) == len(theirs), f"{path}: {len(ours)} lines and {len(theirs)} lines"
        for number, (one, other) in enumerate(zip(ours, theirs), start=1):
            one = [pair for pair in one if not pair[0].isspace()]
            other = [pair for pair in other if not pair[0].isspace()]
            compared += len(one)
            if one != other:
                wrong.append(f"{path.name} {number}: {words(one)} by TextMate, {words(other)} by {reader}")
            elif odd := sorted({kind for _, kind in one if kind not in known or kind == "slip"}):
                wrong.append(f"{path.name} {number}: {''.join(c for c, _ in one)} holds {odd}")
    return compared, wrong


def main():
    designs = sorted(path for folder in ("examples", "crates/circuit/library") for path in (tools.ROOT / folder).rglob("*.stage"))
    stating = {"words": fixture(), "lists": lists()}
    logs = tools.TARGET / "test-logs"
    logs.mkdir(parents=True, exist_ok=True)
    for name, (design, _) in stating.items():
        (logs / f"{name}.stage").write_text("\n".join(design) + "\n")
    files = [*(logs / f"{name}.stage" for name in stating), *designs]
    grammar = tools.ROOT / "editors" / "shared" / "stage.tmLanguage.json"
    plugin = tools.ROOT / "editors" / "neovim"
    emacs = read([*tools.emacs(), "-Q", "--batch", "-L", tools.ROOT / "editors" / "emacs", "-l", HERE / "emacs.el"], files, None)
    textmate = read([tools.node(), HERE / "textmate.mjs", tools.packages(), grammar], files, "textmate")
    vim = read([tools.neovim(), "--clean", "--headless", "-l", HERE / "vim.lua", plugin], files, "vim")

    readers = {"TextMate": textmate, "Vim": vim, "Emacs": emacs}
    wrong, lines = [], 0
    for number, (design, stated) in enumerate(stating.values()):
        for reader, lines_read in readers.items():
            wrong += check_lines(reader, lines_read[number], design, stated)
        lines += len(stated)
    characters = 0
    for reader in ("Vim", "Emacs"):
        characters, differences = check_designs(designs, textmate[len(stating) :], reader, readers[reader][len(stating) :])
        wrong += differences
    print("".join(f"{fault}\n" for fault in wrong), end="")
    print(f"{lines} lines of words read by {len(readers)} grammars, {characters} characters of {len(designs)} designs compared: {len(wrong)} differences")
    if lines < 200 or (designs and characters < 1000):
        sys.exit("too little was compared to say anything")
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
