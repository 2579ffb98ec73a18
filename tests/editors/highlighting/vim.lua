-- Reads files with the Vim syntax and prints, as JSON, one list a file of one list a line of [character, group].
-- usage: nvim --clean --headless -l vim.lua PLUGIN FILE...
vim.opt.runtimepath:append(arg[1])
vim.cmd('syntax on')
local answer = {}
for file = 2, #arg do
  vim.cmd.edit({ arg[file], bang = true })
  vim.bo.filetype = 'stage'
  vim.cmd('syntax sync fromstart')
  local lines = {}
  for number, line in ipairs(vim.api.nvim_buf_get_lines(0, 0, -1, true)) do
    local characters, column = {}, 1
    for _, character in ipairs(vim.fn.split(line, '\\zs')) do
      table.insert(characters, { character, vim.fn.synIDattr(vim.fn.synID(number, column, 1), 'name') })
      column = column + #character
    end
    table.insert(lines, characters)
  end
  table.insert(answer, lines)
end
io.stdout:write(vim.json.encode(answer))
