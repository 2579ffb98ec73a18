; One class a word, and no word in two patterns: editors differ in which of two they take.
; The classes are those of the other grammars of this folder (tests/editors/highlighting/classes.json).

(comment) @comment
(string) @string
(slip) @error

; Headings.
["design" "let" "stage" "use" "as" "include" "datasheet" "assume" "formula" "require"] @keyword

(label) @function
(type) @type.builtin

; Words of entries.
["band" "reference" "temperature" "source" "tolerance" "matched" "balanced" "setting" "trim" "accept"] @keyword.storage
(figures_entry "supply" @keyword.storage)
(limit_word) @keyword.storage
(subject_word) @keyword.storage
(pin) @keyword.storage
(datum) @property

; Words of readings and statements.
(phrase) @function.builtin

[
  "all"
  "above"
  "against"
  "at"
  "below"
  "for"
  "from"
  "of"
  "on"
  "over"
  "when"
  "within"
] @keyword.operator

(weighting) @constant.builtin

; Parts and what stands behind them.
(part) @type
(class) @type
(attribute) @attribute
(position) @attribute
(neglect) @attribute
(series) @constant.builtin

(name) @variable
(ground) @variable.builtin

; Figures and expressions.
(figure) @constant.numeric
(unit) @keyword.unit
(peak) @keyword.unit
(constant) @constant.builtin
(function) @function.call

; Marks.
["--" ".." "<" ">" "=" "+" "-" "−" "*" "/" "^" "×" "·"] @operator
(arrow) @operator
(parallel) @operator
(plus_minus) @operator
[":" ","] @punctuation.delimiter
["(" ")"] @punctuation.bracket
