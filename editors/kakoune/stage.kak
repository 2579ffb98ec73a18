# The stage notation in Kakoune: highlighting by its lexical rules, comments, indentation.
# A word that begins with a digit is a figure, one that begins with a letter a name; most words of the language are words only at their
# place and may name a node elsewhere, so each kind of block has its own.

hook global BufCreate .+\.stage %{
    set-option buffer filetype stage
}

hook global WinSetOption filetype=stage %{
    require-module stage
    set-option buffer comment_line '#'
    set-option buffer indentwidth 2
    hook window InsertChar \n -group stage-indent stage-indent-on-new-line
    hook window InsertChar \n -group stage-trim-indent stage-trim-indent
    hook -once -always window WinSetOption filetype=.* %{ remove-hooks window stage-.+ }
}

hook -group stage-highlight global WinSetOption filetype=stage %{
    add-highlighter window/stage ref stage
    hook -once -always window WinSetOption filetype=.* %{ remove-highlighter window/stage }
}

provide-module stage %§

add-highlighter shared/stage regions
add-highlighter shared/stage/comment region '#' $ fill comment
# Above the first heading stand comments only.

evaluate-commands %sh{
    name='[A-Za-z_]\w*(\.[A-Za-z_]\w*)*'
    end='(?![A-Za-z0-9_.])'
    begin='(?<![A-Za-z0-9_.])'
    figure="$begin"'\d+(\.\d+)?(e[-+−]?\d+)?[A-Za-z0-9µμΩΩ]*(/((√|rt)Hz|[umµμ]s))?'
    unit='(%|([fpnumµμkMGT]?[VA]/((√|rt)Hz|[umµμ]s)|[fpnumµμkMGT]?(ohm|Hz|[VAWFHsΩΩ])|dBu|dBV|dB|degC|deg|°C|°)(?!\w))'
    reading='(transimpedance|gain margin|gain|phase margin|phase|delay|low corner|high corner|flatness|input impedance|output impedance|impedance|clip level|level|headroom|input noise density|input noise|noise density|noise|offset|dc|natural frequency|q|rejection|balance|power|voltage|supply current|current|dissipation)'"$end"
    clause="$begin"'(all|above|against|at|below|from|of|on|over|when|within)'"$end"
    attributes='(at|polar|bipolar|film|foil|ceramic|electrolytic|tantalum|mica|polyester|polypropylene|polystyrene|paper|c0g|np0|x5r|x6s|x7r|x7s|x8r|y5v|z5u|carbon|metal|thin|thick|wirewound|air|ferrite|iron|lin|log\d*|revlog\d*|open|closed|external|unfitted)'

    # A block goes to the next heading, and nothing else begins with a small letter in column 0.
    # $1 the block, then pairs of a pattern and what it is shown as; of several that match the last one wins.
    block() {
        word=$1; shift
        printf '%s\n' "add-highlighter shared/stage/$word region ^${word}${end} ^(?=[a-z]) regions"
        printf '%s\n' "add-highlighter shared/stage/$word/comment region '#' \$ fill comment"
        printf '%s\n' "add-highlighter shared/stage/$word/string region '\"' '\"|\$' fill string"
        printf '%s\n' "add-highlighter shared/stage/$word/code default-region group"
        highlight "$name" 0:variable
        while [ $# -gt 0 ]; do highlight "$1" "$2"; shift 2; done
        highlight "$figure" 0:value
        highlight "($figure)[ \\t]*$unit" "0:value"
        highlight "--|->|→|\\|\\||∥|\\.\\.|±|\\+/-|[<>=*/^×·]" 0:operator
        highlight '-->|---+|[–—≤≥{};]|<=|>=|=>|\d+,\d\w*' 0:Error
        highlight "^${word}${end}" 0:keyword
    }
    highlight() {
        printf '%s\n' "add-highlighter shared/stage/$word/code/ regex %¶$1¶ $2"
    }
    part="$begin"'([A-Za-z_]\w*\.)*[A-Z]{1,2}\d+[a-z]?'"$end"
    ground="${begin}gnd${end}"

    block design "$clause" 0:keyword "${begin}(for)$end" 0:keyword "$part" 0:type "${begin}(VR|SW|R|C|L|U)$end" 0:type "${begin}(open|closed|peak|pp)$end" 0:attribute \
        '^\h+(band|reference|temperature|supply|source|tolerance|matched|balanced|setting|trim|accept)(?![A-Za-z0-9_.])' 1:meta \
        '^\h+(setting|balanced)\h+('"$name"')\h*:' 2:function "$ground" 0:builtin
    block let "$part" 0:type "${begin}(pi|s|f|w)$end" 0:builtin "${begin}(sqrt|ln|log10|exp|min|max|abs|Z|cw|ccw)\\h*\\(" 1:function
    block stage "\\h$attributes(?![A-Za-z0-9_.:])" 1:attribute "$part" 0:type "${begin}U\\d+[a-z]?\\h+(\\w+)" 1:module "$ground" 0:builtin \
        '[:,]\h*(out|supply|pole|cw|ccw|wiper|[-+−]|\d+)(?![A-Za-z0-9_.])' 1:meta "${begin}E(192|12|24|48|96|3|6)$end" 0:builtin "^stage\\h+($name)" 1:function
    block use "$part" 0:type "${begin}U\\d+[a-z]?\\h+(\\w+)" 1:module '^use\h+('"$name"')(\h+as\h+('"$name"'))?' '1:function 3:function' '^use\h.*\h(as)\h' 1:keyword
    block include
    block datasheet "${begin}(typ|min|max)$end" 0:meta '^datasheet\h+(\w+)' 1:module
    block assume "$clause" 0:keyword "$part" 0:type "${begin}(short|open|ideal)$end" 0:attribute "^\\h+(stage)\\h" 1:meta "\\hon\\h+$reading" 1:builtin
    block formula "$clause" 0:keyword "$part" 0:type "${begin}(pi|s|f|w)$end" 0:builtin "${begin}(sqrt|ln|log10|exp|min|max|abs|Z|cw|ccw)\\h*\\(" 1:function "^\\h+$reading" 1:builtin
    block require "$clause" 0:keyword "$part" 0:type "${begin}(open|closed)$end" 0:attribute "${begin}(A|468)-weighted" 0:builtin "^\\h+$reading" 1:builtin
}

# A heading stands in column 0 and its entries are indented; how far does not matter.
define-command -hidden stage-indent-on-new-line %{
    evaluate-commands -draft -itersel %{
        # The new line stands where the one above it does, and further in below a heading.
        try %{ execute-keys -draft <semicolon> K <a-&> }
        try %{ execute-keys -draft k x <a-k> ^(design|let|stage|use|include|datasheet|assume|formula|require)(?![A-Za-z0-9_.]) <ret> j <a-gt> }
    }
}

define-command -hidden stage-trim-indent %{
    evaluate-commands -draft -itersel %{
        try %{ execute-keys -draft k x s ^\h+$ <ret> d }
    }
}

§
