;; Reads files with the Emacs mode and prints, as JSON, one list a file of one list a line of [character, class].
;; usage: emacs -Q --batch -L FOLDER -l emacs.el FILE...
(require 'stage-mode)
(require 'json)

(defun stage-test-class (position)
  "The class of the character at POSITION by its face, as the mode's own table has it; several classes may share a face."
  (let ((face (get-text-property position 'face)))
    (pcase (if (listp face) (car face) face)
      ('font-lock-comment-face "comment")
      ('font-lock-comment-delimiter-face "comment")
      ('font-lock-string-face "string")
      ('nil "")
      (other (symbol-name other)))))

(defun stage-test-lines ()
  "The lines of the buffer, with the class of each character."
  (font-lock-ensure)
  (goto-char (point-min))
  (let (lines)
    (while (not (eobp))
      (let ((classes (make-hash-table)) characters)
        (dolist (token (stage-mode--tokens))
          (cl-loop for at from (nth 0 token) below (nth 1 token) do (puthash at (symbol-name (nth 2 token)) classes)))
        (cl-loop for at from (line-beginning-position) below (line-end-position)
                 for seen = (stage-test-class at)
                 for class = (gethash at classes)
                 ;; What the table says has to be what is seen.
                 do (push (vector (string (char-after at))
                                  (cond ((member seen '("comment" "string")) seen)
                                        ((null class) seen)
                                        ((equal seen (symbol-name (alist-get (intern class) stage-mode--faces))) class)
                                        (t (concat class " shown as " seen))))
                          characters))
        (push (vconcat (nreverse characters)) lines))
      (forward-line 1))
    (vconcat (nreverse lines))))

(set-language-environment "UTF-8")
(let (answer)
  (dolist (file command-line-args-left)
    (with-temp-buffer
      (insert-file-contents file)
      (stage-mode)
      (push (stage-test-lines) answer)))
  (setq command-line-args-left nil)
  (princ (decode-coding-string (json-serialize (vconcat (nreverse answer))) 'utf-8)))
