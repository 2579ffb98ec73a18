"""Which requests each capability that a server announces promises to answer (LSP 3.17 and 3.18)."""

# A capability that is an object may promise more by the words in it.
PROMISED = {
    "hoverProvider": ["textDocument/hover"],
    "inlayHintProvider": ["textDocument/inlayHint"],
    "definitionProvider": ["textDocument/definition"],
    "declarationProvider": ["textDocument/declaration"],
    "typeDefinitionProvider": ["textDocument/typeDefinition"],
    "implementationProvider": ["textDocument/implementation"],
    "referencesProvider": ["textDocument/references"],
    "documentHighlightProvider": ["textDocument/documentHighlight"],
    "documentSymbolProvider": ["textDocument/documentSymbol"],
    "workspaceSymbolProvider": ["workspace/symbol"],
    "codeActionProvider": ["textDocument/codeAction"],
    "codeLensProvider": ["textDocument/codeLens"],
    "documentLinkProvider": ["textDocument/documentLink"],
    "colorProvider": ["textDocument/documentColor", "textDocument/colorPresentation"],
    "documentFormattingProvider": ["textDocument/formatting"],
    "documentRangeFormattingProvider": ["textDocument/rangeFormatting"],
    "documentOnTypeFormattingProvider": ["textDocument/onTypeFormatting"],
    "renameProvider": ["textDocument/rename"],
    "foldingRangeProvider": ["textDocument/foldingRange"],
    "selectionRangeProvider": ["textDocument/selectionRange"],
    "linkedEditingRangeProvider": ["textDocument/linkedEditingRange"],
    "completionProvider": ["textDocument/completion"],
    "signatureHelpProvider": ["textDocument/signatureHelp"],
    "executeCommandProvider": ["workspace/executeCommand"],
    "semanticTokensProvider": [],
    "diagnosticProvider": ["textDocument/diagnostic"],
    "callHierarchyProvider": ["textDocument/prepareCallHierarchy"],
    "typeHierarchyProvider": ["textDocument/prepareTypeHierarchy"],
    "monikerProvider": ["textDocument/moniker"],
    "inlineValueProvider": ["textDocument/inlineValue"],
    "inlineCompletionProvider": ["textDocument/inlineCompletion"],
}
WITHIN = {
    ("semanticTokensProvider", "full"): "textDocument/semanticTokens/full",
    ("semanticTokensProvider", "full", "delta"): "textDocument/semanticTokens/full/delta",
    ("semanticTokensProvider", "range"): "textDocument/semanticTokens/range",
    ("inlayHintProvider", "resolveProvider"): "inlayHint/resolve",
    ("completionProvider", "resolveProvider"): "completionItem/resolve",
    ("codeActionProvider", "resolveProvider"): "codeAction/resolve",
    ("codeLensProvider", "resolveProvider"): "codeLens/resolve",
    ("documentLinkProvider", "resolveProvider"): "documentLink/resolve",
    ("workspaceSymbolProvider", "resolveProvider"): "workspaceSymbol/resolve",
    ("renameProvider", "prepareProvider"): "textDocument/prepareRename",
    ("diagnosticProvider", "workspaceDiagnostics"): "workspace/diagnostic",
    ("documentRangeFormattingProvider", "rangesSupport"): "textDocument/rangesFormatting",
}
# Capabilities that promise to hear notifications, or say how to speak: the walk below sends them all.
HEARD = {"textDocumentSync", "workspace", "positionEncoding", "notebookDocumentSync", "experimental"}
# Requests below `workspace`.
FILE_OPERATIONS = {name: f"workspace/{name}Files" for name in ("willCreate", "willRename", "willDelete")}


def promised(capabilities: dict) -> set:
    """The requests that these capabilities promise to answer. A capability that this table does not know is an error: what is announced
    has to be walked through."""
    methods = set()
    for name, value in capabilities.items():
        if value in (None, False) or name in HEARD:
            continue
        if name not in PROMISED:
            raise KeyError(f"the server announces {name}, which nobody here knows how to ask for")
        methods.update(PROMISED[name])
        methods.update(method for path, method in WITHIN.items() if path[0] == name and _there(value, path[1:]))
    workspace = capabilities.get("workspace") or {}
    methods.update(method for name, method in FILE_OPERATIONS.items() if (workspace.get("fileOperations") or {}).get(name))
    if workspace.get("textDocumentContent"):
        methods.add("workspace/textDocumentContent")
    return methods


def _there(value, path) -> bool:
    for word in path:
        if not isinstance(value, dict) or value.get(word) in (None, False):
            return False
        value = value[word]
    return True
