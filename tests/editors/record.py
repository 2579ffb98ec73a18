"""What an editor and the server said to each other, as the recorder wrote it down: one message a line, in order."""

import json
from collections import Counter
from pathlib import Path

from capabilities import promised

# Answers that the protocol has for what was overtaken or taken back; every other error is a fault.
HARMLESS = (-32800, -32801, -32802)
# There is no such method.
UNKNOWN = -32601


def messages(path: Path) -> list:
    """[(who, message)] in order."""
    return [(line["from"], line["message"]) for line in map(json.loads, path.read_text().splitlines())]


def sessions(path: Path) -> list:
    """The same, each start of the server by itself."""
    starts = []
    for who, message in messages(path):
        if message.get("method") == "initialize":
            starts.append([])
        starts[-1].append((who, message))
    return starts


def faults(path: Path) -> list:
    """What is wrong with what was said: a request that got no reply or two, a reply to nothing, an error."""
    if not path.exists():
        return ["nothing was recorded: the editor has not started the server of this test"]
    if not any(message.get("method") == "textDocument/inlayHint" for who, message in messages(path) if who == "editor"):
        return ["the editor has not asked for hints"]
    return [fault for said in sessions(path) for fault in _faults(said)]


def _faults(said: list) -> list:
    # What an editor asks once it has told the server to shut down is refused, if the server is still there to do so.
    end = next((at for at, (_, message) in enumerate(said) if message.get("method") == "shutdown"), len(said))
    late = {message["id"] for who, message in said[end + 1 :] if who == "editor" and "method" in message and "id" in message}
    said = [(who, message) for who, message in said if message.get("id") not in late or who == ("server" if "method" in message else "")]
    begun = next((message["result"] for who, message in said if who == "server" and "capabilities" in (message.get("result") or {})), None)
    offered = promised(begun["capabilities"]) if begun else set()
    wrong = []
    for asks, answers in (("editor", "server"), ("server", "editor")):
        asked = {message["id"]: message["method"] for who, message in said if who == asks and "method" in message and "id" in message}
        replies = [message for who, message in said if who == answers and "method" not in message]
        count = Counter(reply["id"] for reply in replies)
        if asks == "editor":
            wrong += [f"{method} (id {id}) got {count[id]} replies" for id, method in asked.items() if count[id] != 1]
            errors = [(asked.get(reply["id"]), reply["error"]) for reply in replies if "error" in reply]
            # Some editors ask for what the server never said that it can do.
            wrong += [
                f"{method} was answered {error}"
                for method, error in errors
                if error["code"] not in HARMLESS and (error["code"] != UNKNOWN or method in offered)
            ]
        wrong += [f"the {answers} answered {id}, which the {asks} never asked" for id in count if id not in asked]
    return wrong


def hints(path: Path) -> list:
    """The hints that the editor got last, as [line from 1, label] in order."""
    said = messages(path)
    asked = {message["id"] for who, message in said if who == "editor" and message.get("method") == "textDocument/inlayHint"}
    answers = [message["result"] for who, message in said if who == "server" and message.get("id") in asked and message.get("result") is not None]
    return sorted([hint["position"]["line"] + 1, label_of(hint)] for hint in (answers or [[]])[-1])


def label_of(hint: dict) -> str:
    """A hint's label, which may be in pieces."""
    label = hint["label"]
    return label if isinstance(label, str) else "".join(piece["value"] for piece in label)


def diagnostics(path: Path) -> list:
    """The problems that the editor was told last, as [line from 1, message] in order."""
    told = [message["params"]["diagnostics"] for _, message in messages(path) if message.get("method") == "textDocument/publishDiagnostics"]
    return sorted([problem["range"]["start"]["line"] + 1, problem["message"]] for problem in (told or [[]])[-1])
