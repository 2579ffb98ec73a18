"""Is the tree-sitter grammar made from its sources, and does it read the notation?

1. `tree-sitter test` finds the trees that editors/tree-sitter-stage/test/corpus states.
2. Every whole design of the repository is read without an error node, and no word of it is left without a class.
3. Every line of highlighting/words.stage has the classes that the line below it states, and each word of the parser's closed lists has its
   class where it may stand.
4. Half-typed lines: a design is cut after each of its characters, and each of its lines is cut so in its place. What cannot be read
   stays in its own entry: the headings and entries above and below have the trees that they had.
5. A design that is edited in place has the tree of the same text read from scratch.
"""

import random
import re
import subprocess
import sys
import unicodedata
from ctypes import CDLL, PYFUNCTYPE, c_char_p, c_void_p, py_object, pythonapi
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
import check_highlighting as highlighting
import tools

SOURCES = tools.ROOT / "editors" / "tree-sitter-stage"
# What a tree knows and a row of patterns does not: an indented heading is one.
OTHERWISE = {"  stage recorder: hot, cold    # an indented heading: the server says so": "heading label mark name mark name comment"}


def built():
    """The parser and its queries, generated and compiled in a folder of the target directory; the stated trees are compared there."""
    import tree_sitter

    home, cli = tools.tree_sitter_grammar(), tools.tree_sitter()
    done = subprocess.run([cli, "test"], cwd=home, capture_output=True, text=True, env=tools.tree_sitter_environment())
    stated = done.stdout.count("✓")
    if done.returncode or "✗" in done.stdout or stated < 8:
        raise SystemExit(f"tree-sitter test ended with {done.returncode}:\n{done.stdout}{done.stderr}")
    function = CDLL(str(home / "stage.so")).tree_sitter_stage
    function.restype = c_void_p
    capsule = PYFUNCTYPE(py_object, c_void_p, c_char_p, c_void_p)(("PyCapsule_New", pythonapi))
    language = tree_sitter.Language(capsule(function(), b"tree_sitter.Language", None))
    queries = {path.stem: tree_sitter.Query(language, path.read_text()) for path in sorted((home / "queries").glob("*.scm"))}
    return tree_sitter.Parser(language), queries, stated


def nodes(node):
    """A node and all below it."""
    yield node
    for child in node.children:
        yield from nodes(child)


def classes(query, tree, text):
    """The lines of a text as lists of (character, class). Two classes for one character are told as `A+B`."""
    import tree_sitter

    named = {name: kind for kind, names in highlighting.CLASSES.items() for name in names["tree_sitter"]}
    data = text.encode()
    at = [""] * len(data)
    for capture, found in tree_sitter.QueryCursor(query).captures(tree.root_node).items():
        for node in found:
            for place in range(node.start_byte, node.end_byte):
                kind = named.get(capture, capture)
                at[place] = kind if at[place] in ("", kind) else f"{at[place]}+{kind}"
    lines, line, place = [], [], 0
    for character in text:
        if character == "\n":
            lines.append(line)
            line = []
        else:
            line.append((character, at[place]))
        place += len(character.encode())
    return [*lines, line] if line else lines


def check_stated(parser, query):
    """The stated lines that have other classes."""
    wrong, count = [], 0
    for design, stated in (highlighting.fixture(), highlighting.lists()):
        text = "\n".join(design) + "\n"
        lines = classes(query, parser.parse(text.encode()), text)
        stated = {n: OTHERWISE.get(design[n], " ".join(kinds)).split() for n, kinds in stated.items()}
        wrong += highlighting.check_lines("tree-sitter", lines, design, stated)
        count += len(stated)
    return wrong, count


def check_designs(parser, query, designs):
    """Error nodes in whole designs, and words without a class."""
    wrong = []
    for path in designs:
        text = path.read_text()
        tree = parser.parse(text.encode())
        wrong += [f"{path.name} {node.start_point.row + 1}: {node.type}" for node in nodes(tree.root_node) if node.is_error or node.is_missing]
        known = set(highlighting.CLASSES) - {"slip"}
        for number, line in enumerate(classes(query, tree, text), start=1):
            if odd := [(c, kind) for c, kind in line if not c.isspace() and kind not in known and unicodedata.category(c) != "Cf"]:
                wrong.append(f"{path.name} {number}: {odd[:8]}")
    return wrong


def entries(tree):
    """The headings and entries of a tree as (first row, row behind the last, tree as text)."""
    found = []
    for block in tree.root_node.children:
        for node in block.children if block.type.endswith("_block") else [block]:
            found.append((node.start_point.row, node.end_point.row + (node.end_point.column > 0), str(node)))
    return found


def outside(tree, first, behind, moved=0):
    """What stands above and below some rows, the rows below as if they had not moved."""
    above = [entry for entry in entries(tree) if entry[1] <= first]
    below = [(a - moved, b - moved, text) for a, b, text in entries(tree) if a >= behind + moved]
    return above, below


def check_half_typed(parser, designs):
    """Each design while it is typed, and each of its lines while it is typed in its place."""
    wrong, count, torn = [], 0, 0
    for path in designs:
        text = path.read_text()
        lines = text.split("\n")
        whole = parser.parse(text.encode())
        typed = entries(whole)
        begins = 0
        for row, line in enumerate(lines):
            code = line.split("#")[0].rstrip() if '"' not in line else line
            # A line that opens a block, or continues an entry, says what its neighbours are.
            word = re.match(r"\s*(\w*)", code)[1]
            alone = any(a == row and b == row + 1 for a, b, _ in typed) and word not in highlighting.closed_list("HEADING_WORDS")
            # The entry that the line belongs to begins here; what is above that stays.
            top = next((a for a, b, _ in typed if a <= row < b), row)
            for cut in range(len(line) - len(line.lstrip()) + 1, len(code)):
                count += 1
                # As the last line of a file.
                tree = parser.parse(text[: begins + cut].encode())
                if outside(tree, top, row + 1)[0] != [entry for entry in typed if entry[1] <= top]:
                    wrong.append(f"{path.name} {row + 1}: {line[:cut]!r} at the end changes what is above")
                if not alone:
                    continue
                changed = "\n".join([*lines[:row], line[:cut], *lines[row + 1 :]])
                if cut and line[:cut].split("#")[0].strip() in highlighting.closed_list("HEADING_WORDS"):
                    continue
                tree = parser.parse(changed.encode())
                torn += tree.root_node.has_error
                if outside(tree, row, row + 1) != outside(whole, row, row + 1):
                    wrong.append(f"{path.name} {row + 1}: {line[:cut]!r} changes other lines")
            begins += len(line) + 1
    return wrong, count, torn


def point(data, at):
    """Row and column of a byte."""
    return data.count(b"\n", 0, at), at - (data.rfind(b"\n", 0, at) + 1)


def check_edits(parser, designs, rounds=40):
    """Edits in place against reading from scratch, drawn from a fixed seed."""
    wrong, count = [], 0
    draw = random.Random(1)
    pieces = ["\n", "\n\n", " ", "  ", "--", "||", ",", "#", '"', "R1", "gnd", "stage", "stage x: a -> b", "\nrequire\n", "(", ")", ":", "é", "1k", "|", "at", ""]
    for path in designs:
        data = path.read_bytes()
        tree = parser.parse(data)
        for _ in range(rounds):
            text = data.decode()
            start = draw.randrange(len(text) + 1)
            end = min(len(text), start + draw.choice([0, 0, 1, 2, 5, 20, 80]))
            new = draw.choice(pieces).encode()
            first, last = len(text[:start].encode()), len(text[:end].encode())
            after = data[:first] + new + data[last:]
            old = (point(data, first), point(data, last))
            tree.edit(first, last, first + len(new), old[0], old[1], point(after, first + len(new)))
            data = after
            tree = parser.parse(data, tree)
            count += 1
            if str(tree.root_node) != str(parser.parse(data).root_node):
                wrong.append(f"{path.name}: {new!r} in place of {text[start:end]!r} at {first} has another tree than from scratch")
                tree = parser.parse(data)
    return wrong, count


def main():
    parser, queries, stated_trees = built()
    if set(queries) != {"highlights", "folds"}:
        sys.exit(f"queries: {sorted(queries)}")
    folders = ("examples", "tests/outside", "crates/notation/tests/ok", "crates/circuit/library")
    designs = sorted(path for folder in folders for path in (tools.ROOT / folder).glob("*.stage"))
    wrong, stated = check_stated(parser, queries["highlights"])
    wrong += check_designs(parser, queries["highlights"], designs)
    typed = [path for path in designs if path.parent.name == "examples" or path.stem.startswith("rule-")]
    torn, cuts, errors = check_half_typed(parser, typed)
    differing, edits = check_edits(parser, designs)
    wrong += torn + differing
    print("".join(f"{fault}\n" for fault in wrong), end="")
    print(
        f"{stated_trees} stated trees, {stated} lines of words, {len(designs)} designs, "
        f"{cuts} half-typed lines ({errors} with an error node), {edits} edits: {len(wrong)} differences"
    )
    if len(designs) < 90 or stated < 200 or cuts < 10_000:
        sys.exit("too little was looked at to say anything")
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
