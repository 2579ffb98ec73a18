-- The language server, for `vim.lsp.enable('stagewright')` (Neovim 0.11 and later).
return {
  cmd = { 'stagewright', 'serve' },
  filetypes = { 'stage' },
  root_markers = { '.git' },
  -- Every keystroke is sent at once: the server is made to keep up, and skips what has been overtaken.
  flags = { debounce_text_changes = 0 },
}
