# The language server of the stage notation for kak-lsp, and readings beside the lines.

hook -group lsp-filetype-stage global BufSetOption filetype=stage %{
    set-option buffer lsp_servers %{
        [stagewright]
        root_globs = [".git"]
        command = "stagewright"
        args = ["serve"]
    }
}

hook global WinSetOption filetype=stage %{
    lsp-enable-window
    lsp-inlay-hints-enable window
    lsp-inlay-diagnostics-enable window
    # Readings that take long come with the problems. kak-lsp asks for hints once a text, so it is made to ask once more.
    hook -group stage-lsp window WinSetOption lsp_inline_diagnostics=.* %{
        set-option buffer lsp_inlay_hints_timestamp -1
        try lsp-inlay-hints
    }
}
