-- The language server, for `vim.lsp.enable('stagewright')` (Neovim 0.11 and later).
return {
  cmd = { 'stagewright', 'serve' },
  filetypes = { 'stage' },
  root_markers = { '.git' },
}
