" A heading stands in column 0 and its entries are indented; how far does not matter. So the line below a heading moves in, a heading
" moves out when its line is finished, and an entry that is indented keeps its place.
if exists('b:did_indent')
  finish
endif
let b:did_indent = 1

setlocal autoindent indentexpr=StageIndent() indentkeys=o,O,*<Return>
let b:undo_indent = 'setlocal autoindent< indentexpr< indentkeys<'

if exists('*StageIndent')
  finish
endif

" `stage` begins an entry too (`stage recorder open` below `assume`), which only its colon tells from a heading.
let s:heading = '\v^\s*%(%(design|let|use|include|datasheet|assume|formula|require)>|stage>[^#]*:)'
let s:opens = '\v^%(design|let|stage|use|include|datasheet|assume|formula|require)>'

function StageIndent() abort
  let line = getline(v:lnum)
  if line =~# s:heading
    return 0
  endif
  " Text in its place, a comment or a line above all blocks stays where it is.
  if line =~# '^\s\+\S' || line =~# '^\s*#'
    return -1
  endif
  let above = getline(v:lnum - 1)
  if above =~# s:opens
    return shiftwidth()
  endif
  " A new line below a blank one begins in column 0, where a heading can follow.
  return above =~# '^\s*$' ? -1 : indent(v:lnum - 1)
endfunction
