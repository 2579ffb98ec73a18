" Tells YouCompleteMe of the language server, and turns its inlay hints on: the readings are inlay hints.
"
" Settings, to be made before this file is read (in vimrc):
"   let g:stagewright_server = ['/path/to/stagewright', 'serve']   how the server is started
"   let g:ycm_enable_inlay_hints = 0                               no readings until they are asked for
if exists('g:loaded_stagewright') || has('nvim')
  finish
endif
let g:loaded_stagewright = 1

if !exists('g:ycm_enable_inlay_hints')
  let g:ycm_enable_inlay_hints = 1
endif
let g:ycm_language_server = get(g:, 'ycm_language_server', []) + [{
      \ 'name': 'stagewright',
      \ 'cmdline': get(g:, 'stagewright_server', ['stagewright', 'serve']),
      \ 'filetypes': ['stage'],
      \ 'project_root_files': ['.git'],
      \ }]
