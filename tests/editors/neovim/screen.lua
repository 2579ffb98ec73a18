-- What a person sees: runs an editor with its user interface in a terminal of this one, waits for a text and writes the screen down.
-- usage: nvim --clean --headless -c 'luafile screen.lua'
-- environment: SCREEN the size, the text and the command as JSON {columns, lines, awaited, command}, PICTURE the file to write
local wanted = vim.json.decode(vim.env.SCREEN)
local awaited = wanted.awaited
vim.o.columns, vim.o.lines, vim.o.laststatus, vim.o.showtabline, vim.o.cmdheight = wanted.columns, wanted.lines, 0, 0, 0
local job = vim.fn.jobstart(wanted.command, { term = true, env = { COLORTERM = 'truecolor', TERM = 'xterm-256color' } })
local function screen() return vim.api.nvim_buf_get_lines(0, 0, -1, true) end
vim.wait(10000, function()
  return vim.iter(screen()):any(function(line) return line:find(awaited, 1, true) ~= nil end)
end, 50)
vim.wait(300)
vim.fn.writefile(screen(), vim.env.PICTURE)
vim.fn.jobstop(job)
vim.cmd('qall!')
