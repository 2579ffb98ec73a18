-- Starts the language server for designs in the stage notation and shows its readings at the lines' ends.
--
-- Settings, to be made before this file is read (in init.lua):
--   vim.g.stagewright_server = { '/path/to/stagewright', 'serve' }   how the server is started
--   vim.g.stagewright_hints = false                                  no readings until they are asked for
if vim.g.loaded_stagewright or vim.fn.has('nvim-0.10') == 0 then
  return
end
vim.g.loaded_stagewright = true

local group = vim.api.nvim_create_augroup('stagewright', {})

vim.api.nvim_create_autocmd('LspAttach', {
  group = group,
  desc = 'Show readings at the ends of the lines',
  callback = function(event)
    local client = vim.lsp.get_client_by_id(event.data.client_id)
    if client and client.name == 'stagewright' and vim.g.stagewright_hints ~= false then
      vim.lsp.inlay_hint.enable(true, { bufnr = event.buf })
    end
  end,
})

vim.api.nvim_create_autocmd('BufReadCmd', {
  group = group,
  pattern = 'stagewright://*',
  desc = 'Show a file of the embedded library, which stands on no disk: the server gives its text',
  callback = function(event)
    local client = vim.lsp.get_clients({ name = 'stagewright' })[1]
    local reply = client and client:request_sync('workspace/textDocumentContent', { uri = event.match }, 1000)
    local text = reply and reply.result and reply.result.text or ''
    vim.api.nvim_buf_set_lines(event.buf, 0, -1, false, vim.split(text, '\n', { trimempty = true }))
    vim.bo[event.buf].modified = false
    vim.bo[event.buf].modifiable = false
    vim.bo[event.buf].buftype = 'nofile'
    vim.bo[event.buf].filetype = 'stage'
  end,
})

if vim.fn.has('nvim-0.11') == 1 then
  if vim.g.stagewright_server then
    vim.lsp.config('stagewright', { cmd = vim.g.stagewright_server })
  end
  vim.lsp.enable('stagewright')
else
  -- Neovim 0.10 has no table of servers: start one by hand, or join the one that runs for the same root.
  vim.api.nvim_create_autocmd('FileType', {
    group = group,
    pattern = 'stage',
    desc = 'Start the language server',
    callback = function(event)
      vim.lsp.start({
        name = 'stagewright',
        cmd = vim.g.stagewright_server or { 'stagewright', 'serve' },
        root_dir = vim.fs.root(event.buf, '.git') or vim.fs.dirname(vim.api.nvim_buf_get_name(event.buf)),
        flags = { debounce_text_changes = 0 },
      }, { bufnr = event.buf })
    end,
  })
end
