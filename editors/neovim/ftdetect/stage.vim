" Designs in the stage notation.
autocmd BufRead,BufNewFile *.stage setfiletype stage
