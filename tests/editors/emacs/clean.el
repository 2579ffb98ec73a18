;; Compiles a file and reads its documentation; anything that either has to say is printed and ends Emacs with 1.
;; usage: emacs -Q --batch -l clean.el FILE COMPILED
(require 'bytecomp)
(require 'checkdoc)
(let* ((file (pop command-line-args-left))
       (compiled (pop command-line-args-left))
       (byte-compile-dest-file-function (lambda (_) compiled))
       (byte-compile-error-on-warn t)
       (vc-handled-backends nil)
       (said nil)
       (checkdoc-create-error-function (lambda (text &rest _) (setq said t) (message "%s" text) nil)))
  (unless (byte-compile-file file) (setq said t))
  (with-current-buffer (find-file-noselect file) (checkdoc-current-buffer t))
  (kill-emacs (if said 1 0)))
