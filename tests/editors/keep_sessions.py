"""Keeps what each editor said in its test as a recording that tests/protocol/sessions.rs plays back to the server.

    python tests/editors/keep_sessions.py            of every editor whose test has run
    python tests/editors/keep_sessions.py emacs vim  of these

Of the server's messages only the number of each reply stays, in its place among what the editor said: what the server answers is not the
recording's affair. Paths of this machine become placeholders, and the last line is the text that the editor ended with.
"""

import json
import re
import sys
from pathlib import Path

import record
from case import EXAMPLE, tools

KEPT = tools.ROOT / "tests" / "protocol" / "sessions"


def kept(folder: Path) -> list:
    """The lines of the recording of an editor's longest session."""
    said = max(record.sessions(folder / "session.jsonl"), key=len)
    lines, asked, dropped = [], set(), set()
    for who, message in said:
        message.pop("jsonrpc", None)
        # A test that looks ten times a second asks the same of the same text again and again; once is enough.
        if who == "editor" and "id" not in message:
            asked.clear()
        elif who == "editor" and "method" in message:
            question = json.dumps([message["method"], message.get("params")])
            if question in asked:
                dropped.add(message["id"])
                continue
            asked.add(question)
        elif who == "server" and "method" not in message and message["id"] in dropped:
            continue
        if who == "editor":
            if message.get("method") == "initialize":
                message["params"]["processId"] = None
            # An editor's replies stand here for what it says to such a request; which number it has is the server's affair.
            lines.append({"editor": message})
        elif "method" not in message:
            reply = {"reply": message["id"]}
            if "error" in message:
                reply["error"] = message["error"]["code"]
            lines.append(reply)
        elif "id" in message:
            lines.append({"asks": message["method"], "id": message["id"]})
    lines.append({"ends": text_after(said)})
    texts = [json.dumps(line, ensure_ascii=False, separators=(",", ":")) for line in lines]
    places = {str(folder / "workspace"): "@FOLDER@", str(folder / "home"): "@HOME@", str(folder): "@TEST@", str(tools.ROOT): "@ROOT@"}
    for path, name in places.items():
        texts = [text.replace(path, name) for text in texts]
    left = sorted({found for text in texts for found in re.findall(r"/(?:home|root|work|tmp|usr|opt)/[\w./-]*", text)})
    if left:
        raise SystemExit(f"{folder.name} still holds {left}")
    return texts


def text_after(said: list) -> str:
    """The text of the design at the end, by the editor's own messages."""
    agreed = next(message["result"]["capabilities"] for _, message in said if "capabilities" in (message.get("result") or {}))
    encoding = {"utf-8": "utf-8", "utf-16": "utf-16-le", "utf-32": "utf-32-le"}[agreed.get("positionEncoding", "utf-16")]
    width = {"utf-8": 1, "utf-16-le": 2, "utf-32-le": 4}[encoding]
    text = ""

    def at(position):
        lines = text.split("\n")
        line = lines[position["line"]].encode(encoding)[: position["character"] * width].decode(encoding)
        return sum(len(one) + 1 for one in lines[: position["line"]]) + len(line)

    for _, message in said:
        if message.get("method") == "textDocument/didOpen":
            text = message["params"]["textDocument"]["text"]
        if message.get("method") == "textDocument/didChange":
            for change in message["params"]["contentChanges"]:
                if where := change.get("range"):
                    start, end = at(where["start"]), at({**where["end"]}) if where["end"]["line"] < text.count("\n") + 1 else len(text)
                    text = text[:start] + change["text"] + text[end:]
                else:
                    text = change["text"]
    return text


def main():
    logs = tools.TARGET / "test-logs"
    names = sys.argv[1:] or sorted(path.parent.name for path in logs.glob("*/session.jsonl"))
    KEPT.mkdir(exist_ok=True)
    for name in names:
        if faults := record.faults(logs / name / "session.jsonl"):
            raise SystemExit(f"{name}: {faults}")
        lines = kept(logs / name)
        (KEPT / f"{name}.jsonl").write_text("\n".join(lines) + "\n")
        ends = json.loads(lines[-1])["ends"]
        print(f"{name}: {len(lines)} lines, {sum(map(len, lines)) // 1024} kB, ends with {'the example' if ends == EXAMPLE.read_text() else 'another text'}")


if __name__ == "__main__":
    main()
