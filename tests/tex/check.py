"""Every derivation of the examples and drawings in TeX: each formula is set by a typesetter, and what stands around them is read as TeX would.

    python tests/tex/check.py

The formulas go through KaTeX with every warning an error. Beside that: no two figures stand side by side without a sign between them, and in
the sentences nothing stands that TeX would not take as it is.
Reference: the functions that KaTeX supports, https://katex.org/docs/supported.html
"""

import json
import re
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
import tools

# Fewer formulas than this would mean that the derivations are not there.
LEAST = 200


def derived(file: Path) -> str:
    done = subprocess.run([tools.program(), "derive", "--format", "tex", file], capture_output=True, text=True, timeout=120)
    return done.stdout


def pieces(text: str, where: str):
    """The formulas of a document, and then what is left of it as sentences."""
    found = []
    body = text[text.index("\\begin{document}") : text.index("\\end{document}")].replace("\\begin{document}", "")
    body = re.sub(r"\\begin\{verbatim\}.*?\\end\{verbatim\}", "", body, flags=re.S)
    display = re.compile(r"\\begin\{align\*\}.*?\\end\{align\*\}", re.S)
    found += [{"where": where, "math": m, "display": True} for m in display.findall(body)]
    body = display.sub("", body)
    inline = re.compile(r"(?<!\\)\$(.*?)(?<!\\)\$", re.S)
    found += [{"where": where, "math": m, "display": False} for m in inline.findall(body)]
    return found, inline.sub("", body)


def side_by_side(math: str) -> bool:
    """Whether two figures stand together as if they were one."""
    # A unit, π, a bracket or a figure, and then a figure.
    return re.search(r"(\\mathrm\{[^{}]*\}|\\pi|\\right\)|\}|\d) +\d", re.sub(r"\\text\{.*\}", "", math)) is not None


def main() -> int:
    files = sorted([*(tools.ROOT / "examples").glob("*.stage"), *(tools.ROOT / "tests" / "drawings").glob("*.stage")])
    with ThreadPoolExecutor(4) as pool:
        texts = list(pool.map(derived, files))
    formulas, wrong = [], []
    for file, text in zip(files, texts):
        if "\\begin{document}" not in text:
            wrong.append(f"{file.name}: no document")
            continue
        found, prose = pieces(text, file.name)
        formulas += found
        wrong += [f"{file.name}: figures side by side: {one['math']}" for one in found if side_by_side(one["math"])]
        plain = re.sub(r"\\(section|subsection)\*", "", prose)
        wrong += [f"{file.name}: {c!r} in {line!r}" for line in plain.splitlines() for c in set(re.findall(r"(?<!\\)[_%&#^$~]|[^\x00-\x7f]", line))]
    setter = Path(__file__).with_name("set.js")
    done = subprocess.run([tools.node(), setter, tools.katex()], input=json.dumps(formulas), capture_output=True, text=True, check=True, timeout=120)
    wrong += [f"{one['where']}: {one['reason']}: {one['math']}" for one in json.loads(done.stdout)]
    print(*wrong, sep="\n")
    print(f"{len(formulas)} formulas of {len(files)} files, {len(wrong)} wrong")
    return 1 if wrong or len(formulas) < LEAST else 0


if __name__ == "__main__":
    sys.exit(main())
