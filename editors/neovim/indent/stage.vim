" A heading stands in column 0 and its entries are indented, so the line below a heading moves in and all others keep their place.
if exists('b:did_indent')
  finish
endif
let b:did_indent = 1

setlocal autoindent indentexpr=StageIndent() indentkeys=o,O,=design,=let,=stage,=use,=include,=datasheet,=assume,=formula,=require
let b:undo_indent = 'setlocal autoindent< indentexpr< indentkeys<'

if exists('*StageIndent')
  finish
endif

let s:heading = '\v^\s*%(design|let|stage|use|include|datasheet|assume|formula|require)>'

function StageIndent() abort
  " `stage` also begins an entry (`stage recorder open` below `assume`), so a heading that stands indented is left where it was put.
  if getline(v:lnum) =~# s:heading
    return indent(v:lnum) > 0 && getline(v:lnum) =~# '\v^\s+stage>' ? -1 : 0
  endif
  let above = getline(v:lnum - 1)
  if above =~# '\v^%(design|let|stage|use|include|datasheet|assume|formula|require)>'
    return shiftwidth()
  endif
  " A blank line keeps the depth that it was given, so that a heading can follow in column 0.
  return above =~# '^\s*$' ? -1 : indent(v:lnum - 1)
endfunction
