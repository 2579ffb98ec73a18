"""Clients that are no editors walk through everything that the server announces in its answer to `initialize`.

1. pytest-lsp, which holds every message against the types of the protocol, with each set of capabilities that it ships.
2. The client library that VS Code uses, with the capabilities of VS Code.

What is announced and has no stop in the walk (conformance/walk.py) fails. A recorder stands before the server: every request has to get
exactly one reply, and no error.
"""

import json
import os
import re
import shlex
import subprocess
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent / "conformance"))
import record
from capabilities import promised
from case import Case, tools
from walk import walk

HERE = Path(__file__).resolve().parent / "conformance"


def main():
    case = Case("conformance")
    ways = walk(case)
    path = case.folder / "walk.json"
    path.write_text(json.dumps(ways))

    typed = case.folder / "typed.jsonl"
    command = shlex.join(map(str, (tools.recorder(), typed, tools.program(), "serve")))
    quiet = ["-q", "-p", "no:cacheprovider", "--rootdir", HERE, HERE / "test_clients.py"]
    done = subprocess.run(
        [tools.python(), "-m", "pytest", *quiet],
        env={**os.environ, "WALK": str(path), "SERVER": command, "PYTHONDONTWRITEBYTECODE": "1"},
        capture_output=True,
        text=True,
        timeout=600,
    )
    print(done.stdout[-6000:])
    passed = int((re.search(r"(\d+) passed", done.stdout) or [0, 0])[1])
    wrong = [] if done.returncode == 0 else ["the client with types found faults"]
    # Seven tests by each of the sets.
    if passed < 7 * 5:
        wrong.append(f"{passed} tests have passed, which is too few to say anything")

    import pytest_lsp

    shipped = sorted((Path(pytest_lsp.__file__).parent / "clients").glob("visual_studio_code*.json"))[-1]
    able = json.loads(shipped.read_text())["capabilities"]
    path.write_text(json.dumps({**ways, "capabilities": able}))
    library = case.folder / "library.jsonl"
    node = subprocess.Popen(
        [str(word) for word in (tools.node(), HERE / "client.mjs", path, tools.client_library(), tools.recorder(), library, tools.program(), "serve")],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    announced = node.stdout.readline()
    try:
        said, _ = node.communicate(json.dumps(sorted(promised(json.loads(announced)))) + "\n" if announced else "", timeout=120)
    except subprocess.TimeoutExpired:
        node.kill()
        said = "the client library has not come to an end\n"
    print(f"the client library of VS Code: {said}", end="")
    if node.returncode:
        wrong.append(f"the client library ended with {node.returncode}")

    sessions = 0
    for kept in (typed, library):
        wrong += [f"{kept.name}: {fault}" for fault in record.faults(kept)]
        sessions += len(record.sessions(kept))
    print(*wrong, sep="\n")
    print(f"{passed} tests passed, {sessions} sessions recorded: {len(wrong)} faults")
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
