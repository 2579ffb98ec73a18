-- Runs inside of a Neovim that was started as its page describes: takes the steps of a file and writes down what the editor has then.
-- environment: STEPS and QUESTIONS the files of what is asked, ANSWERS the file to write
local function read(path)
  return vim.json.decode(table.concat(vim.fn.readfile(path), '\n'), { luanil = { object = true } })
end

--- The hints of the buffer as {line from 1, label}, in order.
local function hints()
  local all = {}
  for _, item in ipairs(vim.lsp.inlay_hint.get({ bufnr = 0 })) do
    local label = item.inlay_hint.label
    if type(label) == 'table' then
      label = vim.iter(label):map(function(part) return part.value end):join('')
    end
    table.insert(all, { item.inlay_hint.position.line + 1, label })
  end
  table.sort(all, function(a, b) return a[1] < b[1] or a[1] == b[1] and a[2] < b[2] end)
  return all
end

--- The problems of the buffer as {line from 1, message}, in order.
local function problems()
  local all = vim.iter(vim.diagnostic.get(0)):map(function(item) return { item.lnum + 1, item.message } end):totable()
  table.sort(all, function(a, b) return a[1] < b[1] or a[1] == b[1] and a[2] < b[2] end)
  return all
end

local function run()
  local attached = vim.wait(10000, function() return #vim.lsp.get_clients({ bufnr = 0, name = 'stagewright' }) == 1 end, 20)
  assert(attached, 'no server is attached to the buffer')
  assert(vim.lsp.inlay_hint.is_enabled({ bufnr = 0 }), 'the hints are not turned on')
  assert(vim.bo.commentstring == '# %s', 'comments are not set up: ' .. vim.bo.commentstring)
  assert(vim.b.current_syntax == 'stage', 'the highlighting is not on')

  local answers = {}
  for _, step in ipairs(read(vim.env.STEPS)) do
    local began = vim.uv.hrtime()
    if step.line then
      vim.api.nvim_buf_set_lines(0, step.line, step.line + 1, true, { step.text })
    end
    -- An editor may be a moment behind: wait for what is stated, and if it does not come report what is there instead.
    local seen
    vim.wait(8000, function()
      if not seen and step.hints and vim.deep_equal(hints(), step.hints) then
        seen = (vim.uv.hrtime() - began) / 1e6
      end
      return (seen or not step.hints) and vim.deep_equal(problems(), step.problems)
    end, 2)
    table.insert(answers, { name = step.name, hints = hints(), problems = problems(), milliseconds = seen })

    if not step.hints then
      -- The way out that the server offers for a slip is taken by the editor's own command.
      vim.api.nvim_win_set_cursor(0, { step.line + 1, step.text:find('1,5k', 1, true) - 1 })
      vim.lsp.buf.code_action({ apply = true, context = { only = { 'quickfix' } } })
      vim.wait(5000, function() return vim.api.nvim_get_current_line():find('1.5k', 1, true) ~= nil end, 20)
      answers[#answers].mended = vim.api.nvim_get_current_line()
    end
  end
  return answers
end

--- Goes to a place counted from 0.
local function go(place) vim.api.nvim_win_set_cursor(0, { place.line + 1, place.column }) end

--- What hovering over the part tells, where its mention leads, and what the layout makes of an untidy line.
local function asked()
  local questions, found = read(vim.env.QUESTIONS), { hover = '', definition = -1 }
  go(questions.part)
  vim.lsp.buf.hover()
  vim.wait(5000, function()
    for _, window in ipairs(vim.api.nvim_list_wins()) do
      if vim.api.nvim_win_get_config(window).relative ~= '' then
        found.hover = table.concat(vim.api.nvim_buf_get_lines(vim.api.nvim_win_get_buf(window), 0, -1, true), '\n')
      end
    end
    return found.hover ~= ''
  end, 20)
  go(questions.mention)
  vim.lsp.buf.definition()
  vim.wait(5000, function() return vim.api.nvim_win_get_cursor(0)[1] - 1 == questions.part.line end, 20)
  found.definition = vim.api.nvim_win_get_cursor(0)[1] - 1
  vim.api.nvim_buf_set_lines(0, questions.part.line, questions.part.line + 1, true, { questions.untidy })
  vim.lsp.buf.format({ timeout_ms = 5000 })
  found.formatted = vim.api.nvim_buf_get_lines(0, 0, -1, true)
  return found
end

local function all()
  local answers = run()
  return { answers = answers, asked = asked(), version = tostring(vim.version()) }
end

local ok, answers = xpcall(all, debug.traceback)
vim.fn.writefile({ vim.json.encode(ok and answers or { fault = answers }) }, vim.env.ANSWERS)
vim.cmd('qall!')
