"""200 random circuits of the kinds that are worked out by hand: each formula that `derive` prints, against sympy as an identity.

    cargo build --release -p stagewright
    python tests/python/derivations_against_sympy.py target/release/stagewright

Each circuit is written as a file of its own and derived. The nodal equations, written apart from the program, are solved by elimination in
sympy's field of rational functions over the integers; the formula is read by a small reader here and compared in the same field, so that two
that are equal are equal for all values. The draws are seeded. Exit 1 where one differs or was not derived.
Reference: sympy.polys.fields, https://docs.sympy.org/latest/modules/polys/domainsref.html
"""

import random
import re
import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from sympy import ZZ
from sympy.polys.fields import field

CIRCUITS = 200
SEED = 20


class Draw:
    """A circuit while it is drawn: parts (name, kind, ends), amplifiers (plus, minus, out)."""

    def __init__(self, chance):
        self.chance = chance
        self.parts, self.amplifiers, self.lines = [], [], []
        self.count = {"R": 0, "C": 0, "L": 0}
        self.inner = 0

    def part(self, kind, a, b):
        self.count[kind] += 1
        name = f"{kind}{self.count[kind]}"
        value = {"R": f"{self.chance.randint(1, 99)}k", "C": f"{self.chance.randint(1, 99)}n", "L": f"{self.chance.randint(1, 99)}m"}[kind]
        self.parts.append((name, kind, a, b))
        self.lines.append(f"  {a} -- {name} {value} -- {b}")

    def arm(self, a, b, kinds="RRRC", deep=2):
        """A two-terminal network of one to four parts."""
        shape = self.chance.random()
        if deep == 0 or shape < 0.5:
            self.part(self.chance.choice(kinds), a, b)
        elif shape < 0.75:
            self.inner += 1
            middle = f"i{self.inner}"
            self.arm(a, middle, kinds, deep - 1)
            self.arm(middle, b, kinds, deep - 1)
        else:
            self.arm(a, b, kinds, deep - 1)
            self.arm(a, b, kinds, deep - 1)

    def amplifier(self, plus, minus, out):
        name = f"U{len(self.amplifiers) + 1}"
        self.amplifiers.append((plus, minus, out))
        self.lines.append(f"  {name} ideal: + {plus}, - {minus}, out {out}")


def follower(d):
    d.part("R", "in", "gnd")
    d.amplifier("in", "out", "out")
    return ["in"], ["out"]


def inverting(d):
    d.arm("in", "sum", "RRRCL")
    d.arm("sum", "out")
    d.amplifier("gnd", "sum", "out")
    return ["in"], ["out"]


def non_inverting(d):
    d.amplifier("in", "fb", "out")
    d.arm("out", "fb")
    d.arm("fb", "gnd", "RRRCL")
    return ["in"], ["out"]


def summing(d):
    inputs = [f"a{k}" for k in range(d.chance.randint(2, 4))]
    for node in inputs:
        d.arm(node, "sum", "RRRC", 1)
    d.arm("sum", "out", "RRC", 1)
    d.amplifier("gnd", "sum", "out")
    return inputs, ["out"]


def difference(d):
    for ends in ("p", "m"), ("m", "out"), ("q", "n"), ("n", "gnd"):
        d.arm(*ends, "RRRC", 1)
    d.amplifier("n", "m", "out")
    return ["p", "q"], ["out"]


def instrumentation(d):
    d.amplifier("p", "gp", "fp")
    d.amplifier("n", "gn", "fn")
    for ends in ("fp", "gp"), ("gp", "gn"), ("gn", "fn"):
        d.arm(*ends, "RRRC", 1)
    return ["p", "n"], ["fp", "fn"]


def integrator(d):
    d.part("R", "in", "sum")
    d.part("C", "sum", "out")
    d.amplifier("gnd", "sum", "out")
    return ["in"], ["out"]


def differentiator(d):
    d.part("C", "in", "sum")
    d.part("R", "sum", "out")
    d.amplifier("gnd", "sum", "out")
    return ["in"], ["out"]


def shelf(d):
    d.amplifier("in", "fb", "out")
    d.part("R", "out", "fb")
    d.part("R", "fb", "gnd")
    d.part("R", "fb", "x")
    d.part("C", "x", "gnd")
    return ["in"], ["out"]


def sallen_key(d):
    kinds = d.chance.choice(["RRCC", "CCRR"])
    d.part(kinds[0], "in", "x")
    d.part(kinds[1], "x", "y")
    d.part(kinds[2], "x", "out")
    d.part(kinds[3], "y", "gnd")
    if d.chance.random() < 0.5:
        d.amplifier("y", "out", "out")
    else:
        d.amplifier("y", "fb", "out")
        d.part("R", "out", "fb")
        d.part("R", "fb", "gnd")
    return ["in"], ["out"]


def multiple_feedback(d):
    kinds = d.chance.choice(["RCRRC", "RRCCR", "CRCCR"])
    for kind, ends in zip(kinds, (("in", "mid"), ("mid", "gnd"), ("mid", "out"), ("mid", "sum"), ("sum", "out"))):
        d.part(kind, *ends)
    d.amplifier("gnd", "sum", "out")
    return ["in"], ["out"]


def twin_t(d):
    d.part("R", "in", "a")
    d.part("R", "a", "t")
    d.part("C", "a", "gnd")
    d.part("C", "in", "b")
    d.part("C", "b", "t")
    d.part("R", "b", "gnd")
    return ["in"], ["t"]


def all_pass(d):
    d.part("R", "in", "sum")
    d.part("R", "sum", "out")
    kinds = d.chance.choice(["RC", "CR"])
    d.part(kinds[0], "in", "plus")
    d.part(kinds[1], "plus", "gnd")
    d.amplifier("plus", "sum", "out")
    return ["in"], ["out"]


def state_variable(d):
    d.part("R", "in", "sum")
    d.part("R", "lp", "sum")
    d.part("R", "hp", "sum")
    d.part("R", "bp", "plus")
    d.part("R", "plus", "gnd")
    d.amplifier("plus", "sum", "hp")
    d.part("R", "hp", "s1")
    d.part("C", "s1", "bp")
    d.amplifier("gnd", "s1", "bp")
    d.part("R", "bp", "s2")
    d.part("C", "s2", "lp")
    d.amplifier("gnd", "s2", "lp")
    return ["in"], d.chance.choice([["lp"], ["bp"], ["hp", "bp", "lp"]])


def balanced(d):
    d.part("R", "in", "hot")
    d.arm("in", "sum", "RRRC", 1)
    d.arm("sum", "mirror", "RRRC", 1)
    d.amplifier("gnd", "sum", "mirror")
    d.part("R", "mirror", "cold")
    return ["in"], ["hot", "cold"]


def divider(d):
    d.arm("in", "out", "RRCL")
    d.arm("out", "gnd", "RRCL")
    return ["in"], ["out"]


def ladder(d):
    nodes = ["in", "a", "out"] if d.chance.random() < 0.6 else ["in", "a", "b", "out"]
    for a, b in zip(nodes, nodes[1:]):
        d.part(d.chance.choice("RRRC"), a, b)
        d.part(d.chance.choice("RCC"), b, "gnd")
    return ["in"], ["out"]


KINDS = [
    follower, inverting, non_inverting, summing, difference, instrumentation, integrator, differentiator, shelf, sallen_key,
    multiple_feedback, twin_t, all_pass, state_variable, balanced, divider, ladder,
]  # fmt: skip
# Where one draw is as good as another, few are made.
WEIGHTS = [1, 6, 6, 4, 4, 3, 1, 1, 2, 4, 4, 2, 2, 3, 3, 5, 4]


def solved(d, inputs, names):
    """The field, its symbols, and each node's voltage for each input at 1 and the others at 0."""
    built = field(["s"] + [p[0] for p in d.parts], ZZ)
    whole, symbols = built[0], dict(zip(["s"] + [p[0] for p in d.parts], built[1:]))
    s = symbols["s"]
    nodes = sorted({n for p in d.parts for n in p[2:]} | {n for a in d.amplifiers for n in a})
    unknowns = [n for n in nodes if n != "gnd" and n not in inputs]
    outs = [a[2] for a in d.amplifiers]
    rows = []

    def row(terms):
        """The coefficients of the unknowns, and on the right one for each input."""
        left, right = [whole.zero] * len(unknowns), [whole.zero] * len(inputs)
        for node, y in terms:
            if node in inputs:
                right[inputs.index(node)] -= y
            elif node != "gnd":
                left[unknowns.index(node)] += y
        rows.append(left + right)

    for node in unknowns:
        if node in outs:
            continue
        terms = []
        for name, kind, a, b in d.parts:
            if node in (a, b) and a != b:
                value = symbols[name]
                y = {"R": 1 / value, "L": 1 / (s * value), "C": s * value}[kind]
                terms += [(node, y), (b if a == node else a, -y)]
        row(terms)
    for plus, minus, _ in d.amplifiers:
        row([(plus, whole.one), (minus, -whole.one)])
    for k in range(len(unknowns)):
        pivot = next(i for i in range(k, len(rows)) if rows[i][k] != 0)
        rows[k], rows[pivot] = rows[pivot], rows[k]
        rows[k] = [x / rows[k][k] for x in rows[k]]
        for i in range(len(rows)):
            if i != k and rows[i][k] != 0:
                share = rows[i][k]
                rows[i] = [x - share * y if y != 0 else x for x, y in zip(rows[i], rows[k])]
    found = {n: rows[k][len(unknowns) :] for k, n in enumerate(unknowns)}
    for k, n in enumerate(inputs):
        found[n] = [whole.one if i == k else whole.zero for i in range(len(inputs))]
    return whole, symbols, found


class Reader:
    """An expression of the notation in a field: + - * / ^, ||, parentheses, names and whole numbers."""

    def __init__(self, text, whole, symbols):
        self.words = re.findall(r"\|\||[A-Za-z]\w*|\d+|[-+*/^()]", text)
        self.whole, self.symbols, self.at = whole, symbols, 0

    def peek(self):
        return self.words[self.at] if self.at < len(self.words) else None

    def take(self):
        self.at += 1
        return self.words[self.at - 1]

    def all(self):
        value = self.parallel()
        if self.peek() is not None:
            raise ValueError(f"{self.peek()} is one word too many")
        return value

    def parallel(self):
        value = self.sum()
        while self.peek() == "||":
            self.take()
            other = self.sum()
            value = value * other / (value + other)
        return value

    def sum(self):
        negative = self.peek() == "-" and self.take()
        value = self.product()
        value = -value if negative else value
        while self.peek() in ("+", "-"):
            sign = self.take()
            value = value + self.product() if sign == "+" else value - self.product()
        return value

    def product(self):
        value = self.power()
        while self.peek() in ("*", "/"):
            value = value * self.power() if self.take() == "*" else value / self.power()
        return value

    def power(self):
        value = self.atom()
        if self.peek() == "^":
            self.take()
            value = value ** int(self.take())
        return value

    def atom(self):
        word = self.take()
        if word == "(":
            value = self.parallel()
            if self.take() != ")":
                raise ValueError("a bracket is open")
            return value
        if word.isdigit():
            return self.whole(int(word))
        return self.symbols[word]


def difference_of(terms, found, inputs):
    """A sum of nodes, `p - q`, by inputs."""
    total = None
    for sign, node in re.findall(r"([-+]?)\s*(\w+)", terms):
        row = [-x for x in found[node]] if sign == "-" else found[node]
        total = row if total is None else [x + y for x, y in zip(total, row)]
    return total


def judged(case):
    """What is wrong with one circuit, and how many formulas were compared."""
    number, kind, d, inputs, outputs, said = case
    if "past a hand derivation" in said or "No working" in said or "Unknown" in said:
        return f"circuit {number}, {kind}, was not derived", 0
    whole, symbols, found = solved(d, inputs, outputs)
    formulas = re.findall(r"^\s+gain (.+?) -> (.+?) = (.+)$", said, re.M)
    seen = set()
    for source, target, text in formulas:
        value = Reader(text, whole, symbols).all()
        row = difference_of(target, found, inputs)
        if " - " in source:
            first, second = (inputs.index(n) for n in source.split(" - "))
            # Of a difference of two inputs both halves are told; where it holds with equal values only, the single lines stand beside it.
            if row[first] != value and {(n, target) for n in source.split(" - ")} <= seen:
                continue
            if row[first] != value or row[second] != -value or any(x != 0 for k, x in enumerate(row) if k not in (first, second)):
                return f"circuit {number}, {kind}: gain {source} -> {target} = {text} is not what the equations say", 0
            seen |= {(n, t) for n in inputs for t in target.split(" - ")}
        else:
            if row[inputs.index(source)] != value:
                return f"circuit {number}, {kind}: gain {source} -> {target} = {text} is not what the equations say", 0
            seen.add((source, target))
    missing = [(i, o) for o in outputs for k, i in enumerate(inputs) if found[o][k] != 0 and (i, o) not in seen]
    if missing:
        return f"circuit {number}, {kind}: no formula for {missing}", 0
    return None, len(formulas)


def main():
    program = sys.argv[1]
    chance = random.Random(SEED)
    drawn = []
    for number in range(CIRCUITS):
        # Each kind once, and then by weight.
        kind = KINDS[number] if number < len(KINDS) else chance.choices(KINDS, WEIGHTS)[0]
        d = Draw(chance)
        inputs, outputs = kind(d)
        text = f"stage one: {', '.join(inputs)} -> {', '.join(outputs)}\n" + "\n".join(d.lines) + "\n"
        drawn.append((number, kind.__name__, d, inputs, outputs, text))
    with tempfile.TemporaryDirectory() as folder:

        def derive(case):
            path = Path(folder) / f"{case[0]}.stage"
            path.write_text(case[5])
            done = subprocess.run([program, "derive", str(path)], capture_output=True, text=True)
            return (*case[:5], done.stdout + done.stderr)

        with ThreadPoolExecutor(2) as pool:
            cases = list(pool.map(derive, drawn))
    wrong, compared = [], 0
    for case in cases:
        why, count = judged(case)
        compared += count
        if why:
            wrong.append(why + "\n" + drawn[case[0]][5])
    kinds = len({case[1] for case in cases})
    print(f"{len(cases)} circuits of {kinds} kinds, {compared} formulas compared, {len(wrong)} circuits at fault")
    print(*wrong, sep="\n")
    # Formulas that were not found would compare nothing.
    return 0 if not wrong and len(cases) == CIRCUITS and compared >= CIRCUITS and kinds == len(KINDS) else 1


if __name__ == "__main__":
    sys.exit(main())
