" Highlighting of the stage notation, by its lexical rules: a word that begins with a digit is a figure, a word that begins with a
" letter is a name; a name of one or two capitals, a number and at most one small letter is a part. Most words of the language are
" words only at their place and may name a node elsewhere, so each kind of block has its own items. The grammar for other editors
" (stage.tmLanguage.json) says the same, and a test compares the two.
if exists('b:current_syntax')
  finish
endif
scriptencoding utf-8

syntax case match
syntax spell notoplevel

let s:end = '\%([A-Za-z0-9_.]\)\@!'
let s:name = '\h\w*\%(\.\h\w*\)*'
let s:part = '\%(\h\w*\.\)*\u\{1,2}\d\+\l\=' . s:end
let s:heading = '\%(design\|let\|stage\|use\|include\|datasheet\|assume\|formula\|require\)' . s:end
let s:blank = '[ \t\u00a0\u2009\u202f]'
let s:prefix = '[fpnumµμkMGT]\='
let s:tail = '/\%(\%(√\|rt\)Hz\|[umµμ]s\)'
let s:figure = '\d\+\%(\.\d\+\)\=\%(e[-+−]\=\d\+\)\=[A-Za-z0-9µμΩΩ]*\%(' . s:tail . '\)\='
let s:unit = '\%(%\|\%(' . s:prefix . '[VA]' . s:tail . '\|' . s:prefix . '\%(ohm\|Hz\|[VAWFHsΩΩ]\)\|dBu\|dBV\|dB\|degC\|deg\|°C\|°\)\%(\w\)\@!\)'
let s:readings = '\%(' . join(map(['transimpedance', 'gain margin', 'gain', 'phase margin', 'phase', 'delay', 'low corner',
      \ 'high corner', 'flatness', 'input impedance', 'output impedance', 'impedance', 'clip level', 'level', 'headroom',
      \ 'input noise density', 'input noise', 'noise density', 'noise', 'offset', 'dc', 'natural frequency', 'q', 'rejection',
      \ 'balance', 'power', 'voltage', 'supply current', 'current', 'dissipation'], 'substitute(v:val, " ", s:blank . "\\\\+", "g")'), '\|') . '\)' . s:end

" Of several items that begin at the same place the one defined last is taken: the general ones stand first.
function s:match(group, pattern, ...) abort
  execute 'syntax match' a:group 'contained' get(a:, 1, '') '/' . escape(a:pattern, '/') . '/'
endfunction

" Words of every block.
call s:match('stageNode', s:name)
call s:match('stageGround', 'gnd' . s:end)
call s:match('stagePart', s:part)
call s:match('stageOperator', '--\|->\|→\|||\|∥\|\.\.\|±\|+/-\|[<>=*/^×·+−-]')
call s:match('stageSeparator', '[:,()]')
call s:match('stageFigure', s:figure, 'nextgroup=stageUnit skipwhite')
call s:match('stageUnit', s:unit)
call s:match('stageUnit', '\%(' . s:figure . '\)\@40<=' . s:blank . '\+\zs' . s:unit)
call s:match('stageLookalike', '-->\|---\+\|[–—≤≥{};]\|<=\|>=\|=>\|+-\||||\+\||\@1<!||\@!\|\d\+,\d[A-Za-z0-9µμΩ]*\|\.\@1<!\.\d\+[A-Za-z0-9µμΩ]*')
call s:match('stageString', '"[^"]*\%("\|$\)')
call s:match('stageComment', '#.*$', 'contains=@Spell,stageTodo')
syntax keyword stageTodo contained TODO FIXME XXX

" Words of one place.
call s:match('stageDatum', s:name)
call s:match('stageSection', '\%(^\%(stage\|use\)' . s:blank . '\+\)\@40<=' . s:name . '\ze' . s:blank . '*\%(:\|$\|#\|as' . s:end . '\)')
call s:match('stageAs', '\%(^use\s.*\)\@80<=\<as' . s:end)
call s:match('stageCopy', '\%(^use\s.*\<as\s\+\)\@80<=' . s:name)
call s:match('stageType', '\%(^datasheet' . s:blank . '\+\)\@40<=\w\+')
call s:match('stageLimitWord', '\%(typ\|min\|max\)' . s:end)
call s:match('stageClass', '\%(VR\|SW\|R\|C\|L\|U\)' . s:end)
call s:match('stageSeries', 'E\%(192\|12\|24\|48\|96\|3\|6\)' . s:end)
call s:match('stagePosition', '\%(open\|closed\)' . s:end)
call s:match('stageNeglect', '\%(short\|open\|ideal\)' . s:end)
let s:attributes = [
      \ 'at', 'polar', 'bipolar', 'film', 'foil', 'ceramic', 'electrolytic', 'tantalum', 'mica', 'polyester',
      \ 'polypropylene', 'polystyrene', 'paper', 'c0g', 'np0', 'x5r', 'x6s', 'x7r', 'x7s', 'x8r', 'y5v', 'z5u', 'carbon',
      \ 'metal', 'thin', 'thick', 'wirewound', 'air', 'ferrite', 'iron', 'lin', 'log\d*', 'revlog\d*', 'open', 'closed',
      \ 'external', 'unfitted']
call s:match('stageAttribute', '\%(' . join(s:attributes, '\|') . '\)' . s:end)
call s:match('stagePeak', '\%(peak\|pp\)' . s:end)
call s:match('stageClause', '\%(all\|above\|against\|at\|below\|from\|of\|on\|over\|when\|within\)' . s:end)
call s:match('stageFor', 'for' . s:end)
call s:match('stageWeighting', '\%(A\|468\)-weighted' . s:end)
call s:match('stageConstant', '\%(pi\|s\|f\|w\)' . s:end)
call s:match('stageFunction', '\%(sqrt\|ln\|log10\|exp\|min\|max\|abs\|Z\|cw\|ccw\)\ze' . s:blank . '*(')
call s:match('stageStageWord', '\%(^\|,\)\@1<=' . s:blank . '*\zsstage' . s:end)
call s:match('stageStageWord', '^' . s:blank . '*\zsstage' . s:end)
call s:match('stageEntry', '^' . s:blank . '*\zs\%(band\|reference\|temperature\|supply\|source\|tolerance\|matched\|balanced\|setting\|trim\|accept\)' . s:end)
call s:match('stageLabel', '\%(^' . s:blank . '*\%(setting\|balanced\)' . s:blank . '\+\)\@40<=' . s:name . '\ze' . s:blank . '*:')
call s:match('stageReading', '^' . s:blank . '*\zs' . s:readings)
call s:match('stageReadingOf', '\%(:' . s:blank . '*\|\<on' . s:blank . '\+\)\@20<=' . s:readings . '\ze' . s:blank)

" A part of a path: what stands behind it up to the next `--` describes it.
syntax cluster stageAny contains=stageString,stageLookalike,stageFigure,stageUnit,stageOperator,stageSeparator,stagePart,stageNode,stageGround
execute 'syntax region stageElement contained oneline keepend matchgroup=stagePart start=/' . escape(s:part, '/') . '/ end=/\%(--\|||\|∥\|[:#]\|\d\@1<!,\|,\d\@!\)/me=s-1 end=/$/'
      \ 'contains=@stageAny,stageParentheses,stageSeries,stageAttribute'
execute 'syntax region stageParentheses contained oneline keepend extend matchgroup=stageSeparator start=/(/ end=/)/ end=/--/me=s-1 end=/#/me=s-1 end=/$/'
      \ 'contains=@stageAny,stageParentheses,stageFunction,stageConstant'
" An amplifier: its type stands next to it.
call s:match('stageAmplifier', '\%(\h\w*\.\)*U\d\+\l\=' . s:end, 'nextgroup=stageDeviceType skipwhite')
call s:match('stageDeviceType', '\w\+')
" The terminals of a device, behind its colon.
syntax region stageTerminals contained matchgroup=stageSeparator start=/\%(^stage\s.*\)\@80<!:/ start=/^\s\+\zs,/ end=/#/me=s-1 end=/$/ keepend oneline contains=stageLookalike,stageFigure,stageOperator,stageSeparator,stagePart,stageNode,stageGround,stageTerminal
call s:match('stageTerminal', '\%([:,]' . s:blank . '*\)\@20<=\%([-+−]\|\%(out\|supply\|pole\|cw\|ccw\|wiper\)' . s:end . '\|\d\+' . s:end . '\)')

" Blocks: from a heading in column 0 to the next one.
function s:block(word, contains) abort
  execute 'syntax region stageBlock' . a:word 'matchgroup=stageHeading start=/^' . a:word . s:end . '/ end=/^' . s:heading . '/me=s-1'
        \ 'contains=stageComment,@stageAny,' . a:contains
endfunction
call s:block('design', 'stageEntry,stageLabel,stageReadingOf,stageWeighting,stageClause,stageFor,stagePeak,stagePosition,stageSeries,stageClass')
call s:block('let', 'stageParentheses,stageFunction,stageConstant')
call s:block('stage', 'stageSection,stageAmplifier,stageElement,stageTerminals')
call s:block('use', 'stageSection,stageAs,stageCopy,stageAmplifier,stageElement')
call s:block('include', '')
call s:block('datasheet', 'stageDatum,stageType,stageLimitWord')
call s:block('assume', 'stageClause,stageNeglect,stageStageWord,stageReadingOf')
call s:block('formula', 'stageReading,stageWeighting,stageClause,stagePosition,stageSeries,stageFunction,stageConstant,stageParentheses')
call s:block('require', 'stageReading,stageWeighting,stageClause,stagePosition,stageParentheses')
" What stands above the first heading.
syntax match stageComment /#.*$/ contains=@Spell,stageTodo

execute 'syntax sync match stageSync grouphere NONE /^' . s:heading . '/'
syntax sync maxlines=500

highlight default link stageComment Comment
highlight default link stageTodo Todo
highlight default link stageString String
highlight default link stageHeading Statement
highlight default link stageAs stageHeading
highlight default link stageSection Function
highlight default link stageCopy stageSection
highlight default link stageLabel stageSection
highlight default link stageEntry Keyword
highlight default link stageLimitWord stageEntry
highlight default link stageStageWord stageEntry
highlight default link stageTerminal stageEntry
highlight default link stageReading Special
highlight default link stageReadingOf stageReading
highlight default link stageClause Conditional
highlight default link stageFor stageClause
highlight default link stagePart Type
highlight default link stageAmplifier stagePart
highlight default link stageClass stagePart
highlight default link stageType Structure
highlight default link stageDeviceType stageType
highlight default link stageNode Identifier
highlight default link stageGround Constant
highlight default link stageDatum Identifier
highlight default link stageFigure Number
highlight default link stageUnit Number
highlight default link stagePeak stageUnit
highlight default link stageSeries Constant
highlight default link stageConstant Constant
highlight default link stageWeighting Constant
highlight default link stageAttribute StorageClass
highlight default link stageNeglect stageAttribute
highlight default link stagePosition stageAttribute
highlight default link stageFunction Function
highlight default link stageOperator Operator
highlight default link stageSeparator Delimiter
highlight default link stageLookalike Error

let b:current_syntax = 'stage'
