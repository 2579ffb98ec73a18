" How text in the stage notation is edited: comments, indentation, words.
if exists('b:did_ftplugin')
  finish
endif
let b:did_ftplugin = 1

setlocal comments=:# commentstring=#\ %s
setlocal expandtab shiftwidth=2 softtabstop=2
" A heading and its entries fold together.
setlocal foldmethod=indent foldlevel=99
" Comments wrap at the text width, entries never do: a break in the middle of an entry would change its meaning.
setlocal formatoptions-=t formatoptions+=croql

let b:undo_ftplugin = 'setlocal comments< commentstring< expandtab< shiftwidth< softtabstop< foldmethod< foldlevel< formatoptions<'
