"""The walk by a client that holds every message against the types of the protocol, with the capabilities of each editor that comes with
it. Run by check_conformance.py, which tells by WALK what to walk and by SERVER how the server is started."""

import asyncio
import json
import os
import pathlib
import shlex
import sys

import pytest
import pytest_lsp
from lsprotocol import types
from pytest_lsp import ClientServerConfig, LanguageClient, client_capabilities

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent.parent))
import record
from capabilities import promised

WALK = json.loads(pathlib.Path(os.environ["WALK"]).read_text())
# Every set of capabilities that is shipped, by name and version.
SHIPPED = sorted(path.stem.replace("_v", "@v") for path in (pathlib.Path(pytest_lsp.__file__).parent / "clients").glob("*.json"))


@pytest_lsp.fixture(params=SHIPPED, config=ClientServerConfig(server_command=shlex.split(os.environ["SERVER"])))
async def client(request, lsp_client: LanguageClient):
    able = client_capabilities(request.param)
    lsp_client.able = able
    lsp_client.registered = []
    # What the server asks of a client that can; some of it this one can already.
    asked = {types.CLIENT_REGISTER_CAPABILITY: lambda params: lsp_client.registered.extend(params.registrations)}
    asked |= dict.fromkeys((types.WORKSPACE_INLAY_HINT_REFRESH, types.WORKSPACE_DIAGNOSTIC_REFRESH, types.WORKSPACE_CODE_LENS_REFRESH), lambda _: None)
    for method, answer in asked.items():
        if method not in lsp_client.protocol.fm.features:
            lsp_client.feature(method)(answer)
    folders = [types.WorkspaceFolder(WALK["folder"], "workspace")]
    lsp_client.begun = await lsp_client.initialize_session(
        types.InitializeParams(capabilities=able, root_uri=WALK["folder"], workspace_folders=folders)
    )
    for uri, text in WALK["documents"].items():
        document = types.TextDocumentItem(uri=uri, language_id="stage", version=1, text=text)
        lsp_client.text_document_did_open(types.DidOpenTextDocumentParams(document))
    yield
    await lsp_client.shutdown_session()


def plain(client, answer):
    """An answer as it came, without the types."""
    return client.protocol._converter.unstructure(answer)


async def ask(client, method, params):
    """Asks with parameters as JSON; the answer as JSON. Both are held against the protocol's types on their way."""
    if method in types.METHOD_TO_TYPES:
        kind = types.METHOD_TO_TYPES[method][2]
        params = client.protocol._converter.structure(params, kind) if kind else None
    return plain(client, await asyncio.wait_for(client.protocol.send_request_async(method, params), 120))


def first(answer):
    """The first item of an answer."""
    items = answer.get("items") if isinstance(answer, dict) else answer
    return items[0] if items else None


@pytest.mark.asyncio
async def test_every_promise_is_kept(client: LanguageClient):
    capabilities = plain(client, client.begun.capabilities)
    owed = promised(capabilities)
    known = {stop["method"] for stop in WALK["stops"]}
    assert owed <= known, f"announced, and nobody walks there: {sorted(owed - known)}"
    answers = {}
    literals = client.able.text_document.code_action and client.able.text_document.code_action.code_action_literal_support
    for stop in (stop for stop in WALK["stops"] if stop["method"] in owed):
        method, params = stop["method"], stop["params"]
        if method == "workspace/executeCommand":
            for command in capabilities["executeCommandProvider"]["commands"]:
                await ask(client, method, {"command": command, "arguments": WALK["arguments"]})
            answers[method] = True
            continue
        if source := stop.get("after"):
            taken = answers[source]
            params = {**params, **{name: taken[of] for name, of in stop["takes"].items()}} if "takes" in stop else first(taken)
        answers[method] = await ask(client, method, params)
        # A client that takes no edits in a code action has none to get.
        if stop["filled"] and (literals or not method.lower().startswith(("textdocument/codeaction", "codeaction"))):
            assert answers[method] or isinstance(answers[method], dict), f"{method} was answered {answers[method]}"
    assert len(answers) >= 10, sorted(answers)


@pytest.mark.asyncio
async def test_hints_are_what_the_program_prints(client: LanguageClient):
    hints = await ask(client, "textDocument/inlayHint", {"textDocument": {"uri": WALK["design"]}, "range": WALK["whole"]})
    assert sorted([hint["position"]["line"] + 1, record.label_of(hint)] for hint in hints) == WALK["hints"]


@pytest.mark.asyncio
async def test_a_hover_has_the_format_that_the_client_wants(client: LanguageClient):
    wanted = client.able.text_document.hover and client.able.text_document.hover.content_format
    hover = await ask(client, "textDocument/hover", {"textDocument": {"uri": WALK["design"]}, "position": WALK["part"]})
    assert hover["contents"]["kind"] == (wanted[0].value if wanted else "plaintext")
    assert WALK["told"] in hover["contents"]["value"]


@pytest.mark.asyncio
async def test_columns_count_what_was_agreed(client: LanguageClient):
    offered = client.able.general and client.able.general.position_encodings
    agreed = client.begun.capabilities.position_encoding or "utf-16"
    assert agreed in (offered or ["utf-16"])


@pytest.mark.asyncio
async def test_what_the_server_registers_is_sent_to_it(client: LanguageClient):
    await ask(client, "textDocument/documentSymbol", {"textDocument": {"uri": WALK["design"]}})
    # test_notifications_break_nothing sends these.
    sent = {types.WORKSPACE_DID_CHANGE_WATCHED_FILES, types.WORKSPACE_DID_CHANGE_CONFIGURATION}
    assert {one.method for one in client.registered} <= sent


@pytest.mark.asyncio
async def test_problems_are_told(client: LanguageClient):
    # Who can ask for problems is told nothing unasked.
    asks = plain(client, client.begun.capabilities).get("diagnosticProvider")
    for _ in range(100):
        if asks:
            answer = await client.text_document_diagnostic_async(types.DocumentDiagnosticParams(types.TextDocumentIdentifier(WALK["slip"])))
            found = answer.items
        else:
            found = client.diagnostics.get(WALK["slip"]) or []
        if sorted([problem.range.start.line + 1, problem.message] for problem in found) == WALK["problems"]:
            return
        await asyncio.sleep(0.1)
    raise AssertionError(f"{found} in place of {WALK['problems']}")


@pytest.mark.asyncio
async def test_notifications_break_nothing(client: LanguageClient):
    design = types.VersionedTextDocumentIdentifier(version=2, uri=WALK["design"])
    text = WALK["documents"][WALK["design"]]
    client.text_document_did_change(types.DidChangeTextDocumentParams(design, [types.TextDocumentContentChangeWholeDocument(text)]))
    client.text_document_did_save(types.DidSaveTextDocumentParams(types.TextDocumentIdentifier(WALK["design"])))
    client.workspace_did_change_configuration(types.DidChangeConfigurationParams(settings={}))
    watched = [types.FileEvent(uri=WALK["slip"], type=kind) for kind in types.FileChangeType]
    client.workspace_did_change_watched_files(types.DidChangeWatchedFilesParams(changes=watched))
    event = types.WorkspaceFoldersChangeEvent(added=[types.WorkspaceFolder(f"{WALK['folder']}/more", "more")], removed=[])
    client.workspace_did_change_workspace_folders(types.DidChangeWorkspaceFoldersParams(event))
    client.set_trace(types.SetTraceParams(types.TraceValue.Messages))
    client.set_trace(types.SetTraceParams(types.TraceValue.Off))
    client.cancel_request(types.CancelParams(id="none"))
    client.window_work_done_progress_cancel(types.WorkDoneProgressCancelParams(token="none"))
    client.text_document_did_close(types.DidCloseTextDocumentParams(types.TextDocumentIdentifier(WALK["slip"])))
    hints = await ask(client, "textDocument/inlayHint", {"textDocument": {"uri": WALK["design"]}, "range": WALK["whole"]})
    assert sorted([hint["position"]["line"] + 1, record.label_of(hint)] for hint in hints) == WALK["hints"]
