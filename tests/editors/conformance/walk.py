"""What is asked of a server for each request that it may promise to answer: the walk through its capabilities. Every client takes the same.

A stop is {"method", "params"}; "filled" says that its answer has to hold something; "after" names the request from whose answer the
parameters are taken: the first item of it, or what "takes" names.
"""

import json
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
from case import EXAMPLE, Case


def walk(case: Case) -> dict:
    """The documents that are opened, and the stops in order."""
    design, slip, untidy, beside = (f"{case.workspace.as_uri()}/{name}.stage" for name in (EXAMPLE.stem, "slip", "untidy", "beside"))
    text = EXAMPLE.read_text()
    lines = text.splitlines()

    def replaced(new):
        return "\n".join([*lines[: case.part.line], new, *lines[case.part.line + 1 :]]) + "\n"

    torn = next(step for step in case.steps if step.hints is None)
    where = {"line": case.part.line, "character": case.part.column}
    at_value = {"line": case.part.line, "character": case.part.column + len("R3 ")}
    mention = {"line": case.mention.line, "character": case.mention.column}
    whole = {"start": {"line": 0, "character": 0}, "end": {"line": len(lines), "character": 0}}
    comma = torn.text.index("1,5k")
    at_comma = {"start": {"line": torn.line, "character": comma}, "end": {"line": torn.line, "character": comma + 4}}
    options = {"tabSize": 2, "insertSpaces": True}
    behind = {"line": case.part.line, "character": len(case.untidy)}

    def of(uri, **more):
        return {"textDocument": {"uri": uri}, **more}

    def stop(method, params, filled=True, **more):
        return {"method": method, "params": params, "filled": filled, **more}

    stops = [
        stop("textDocument/hover", of(design, position=where)),
        stop("textDocument/inlayHint", of(design, range=whole)),
        stop("inlayHint/resolve", None, after="textDocument/inlayHint"),
        stop("textDocument/definition", of(design, position=mention)),
        stop("textDocument/declaration", of(design, position=mention)),
        stop("textDocument/typeDefinition", of(design, position=mention), filled=False),
        stop("textDocument/implementation", of(design, position=mention), filled=False),
        stop("textDocument/references", of(design, position=where, context={"includeDeclaration": True})),
        stop("textDocument/documentHighlight", of(design, position=where)),
        stop("textDocument/documentSymbol", of(design)),
        stop("workspace/symbol", {"query": "preamp"}),
        stop("workspaceSymbol/resolve", None, after="workspace/symbol"),
        stop("textDocument/codeAction", of(slip, range=at_comma, context={"diagnostics": []})),
        stop("codeAction/resolve", None, after="textDocument/codeAction"),
        stop("textDocument/codeLens", of(design)),
        stop("codeLens/resolve", None, after="textDocument/codeLens"),
        stop("textDocument/documentLink", of(beside)),
        stop("documentLink/resolve", None, after="textDocument/documentLink"),
        stop("textDocument/documentColor", of(design), filled=False),
        stop("textDocument/formatting", of(untidy, options=options)),
        stop("textDocument/rangeFormatting", of(untidy, range=whole, options=options)),
        stop("textDocument/rangesFormatting", of(untidy, ranges=[whole], options=options)),
        stop("textDocument/onTypeFormatting", of(untidy, position={"line": behind["line"] + 1, "character": 0}, ch="\n", options=options), filled=False),
        stop("textDocument/prepareRename", of(design, position=where)),
        stop("textDocument/rename", of(design, position=where, newName="R33")),
        stop("textDocument/foldingRange", of(design)),
        stop("textDocument/selectionRange", of(design, positions=[where])),
        stop("textDocument/linkedEditingRange", of(design, position=where), filled=False),
        stop("textDocument/completion", of(design, position=where)),
        stop("completionItem/resolve", None, after="textDocument/completion"),
        stop("textDocument/signatureHelp", of(design, position=at_value)),
        stop("textDocument/semanticTokens/full", of(design)),
        stop("textDocument/semanticTokens/full/delta", of(design), after="textDocument/semanticTokens/full", takes={"previousResultId": "resultId"}),
        stop("textDocument/semanticTokens/range", of(design, range=whole)),
        stop("textDocument/diagnostic", of(slip)),
        stop("workspace/diagnostic", {"previousResultIds": []}),
        stop("workspace/textDocumentContent", {"uri": "stagewright:///library/classes.stage"}),
        stop("workspace/willRenameFiles", {"files": [{"oldUri": design, "newUri": f"{design}.moved"}]}, filled=False),
        stop("workspace/willCreateFiles", {"files": [{"uri": f"{design}.new"}]}, filled=False),
        stop("workspace/willDeleteFiles", {"files": [{"uri": slip}]}, filled=False),
        # Each command that the server names is called with a document and a stage, as lenses call them.
        stop("workspace/executeCommand", None, filled=False),
    ]
    return {
        "folder": case.workspace.as_uri(),
        "design": design,
        "arguments": [design, "preamp"],
        "slip": slip,
        "documents": {design: text, slip: replaced(torn.text), untidy: replaced(case.untidy), beside: f'include "{EXAMPLE.name}"\n'},
        "stops": stops,
        "hints": case.steps[0].hints,
        "problems": torn.problems,
        "whole": whole,
        "part": where,
        "told": case.told,
    }


if __name__ == "__main__":
    print(json.dumps(walk(Case("walk")), indent=1))
