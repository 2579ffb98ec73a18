; The entries of a heading are indented below it.
[
  (design_block)
  (let_block)
  (stage_block)
  (use_block)
  (datasheet_block)
  (assume_block)
  (formula_block)
  (require_block)
] @indent
