[
  (design_block)
  (let_block)
  (stage_block)
  (use_block)
  (include_block)
  (datasheet_block)
  (assume_block)
  (formula_block)
  (require_block)
] @fold
