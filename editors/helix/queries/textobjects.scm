; A heading with its entries is what `]f` goes to and `mif` selects: Helix calls that a function.
[
  (design_block)
  (let_block)
  (stage_block)
  (use_block)
  (datasheet_block)
  (assume_block)
  (formula_block)
  (require_block)
] @function.around

(comment) @comment.inside
(comment)+ @comment.around
