;; Runs inside of an Emacs that was started as its page describes: takes the steps of a file and writes down what the editor has then.
;; environment: STEPS and QUESTIONS the files of what is asked, ANSWERS the file to write
(require 'cl-lib)
(require 'imenu)

(defun stage-session-read (variable)
  "The file that an environment VARIABLE names, as JSON."
  (with-temp-buffer
    (insert-file-contents (getenv variable))
    (json-parse-buffer :object-type 'plist :array-type 'list :null-object nil)))

(defun stage-session-sort (items)
  "ITEMS, lists of a line and a text, in order, as vectors."
  (mapcar #'vconcat
          (sort items (lambda (a b) (or (< (car a) (car b)) (and (= (car a) (car b)) (string< (cadr a) (cadr b))))))))

(defun stage-session-hints ()
  "The hints that are drawn, as [line label] in order."
  (stage-session-sort
   (cl-loop for overlay in (overlays-in (point-min) (point-max))
            when (overlay-get overlay 'eglot--inlay-hint)
            collect (list (line-number-at-pos (overlay-start overlay))
                          (string-trim (substring-no-properties
                                        (or (overlay-get overlay 'before-string) (overlay-get overlay 'after-string))))))))

(defun stage-session-problems ()
  "The problems of the buffer, as [line message] in order."
  (stage-session-sort
   (cl-loop for problem in (flymake-diagnostics)
            collect (list (line-number-at-pos (flymake-diagnostic-beg problem))
                          (replace-regexp-in-string " \\[[a-z0-9-]+\\]\\'" ""
                                                    (replace-regexp-in-string "\\`stagewright[^:]*: " ""
                                                                              (substring-no-properties (flymake-diagnostic-text problem))))))))

(defun stage-session-until (seconds condition)
  "Let Emacs work until CONDITION holds, for SECONDS at most; whether it came to hold."
  (let ((end (+ (float-time) seconds)) held)
    (while (and (not (setq held (funcall condition))) (< (float-time) end))
      (sit-for 0.02))
    held))

(defun stage-session-goto (place)
  "Go to a PLACE counted from 0."
  (goto-char (point-min))
  (forward-line (plist-get place :line))
  (forward-char (plist-get place :column)))

(defun stage-session-replace (line text)
  "Put TEXT in the place of LINE, counted from 0."
  (goto-char (point-min))
  (forward-line line)
  (delete-region (line-beginning-position) (line-end-position))
  (insert text))

(defun stage-session-step (step)
  "Take a STEP; what the editor has then."
  (let* ((began (float-time))
         (hints (mapcar #'vconcat (plist-get step :hints)))
         (problems (mapcar #'vconcat (plist-get step :problems)))
         seen)
    (when (plist-get step :line)
      (stage-session-replace (plist-get step :line) (plist-get step :text)))
    ;; An editor may be a moment behind: wait for what is stated, and if it does not come report what is there instead.
    (stage-session-until 8 (lambda ()
                             (when (and (not seen) hints (equal (stage-session-hints) hints))
                               (setq seen (* 1000 (- (float-time) began))))
                             (and (or seen (not hints)) (equal (stage-session-problems) problems))))
    (list :name (plist-get step :name) :hints (vconcat (stage-session-hints)) :problems (vconcat (stage-session-problems))
          :milliseconds (or seen -1))))

(defun stage-session ()
  "Take all steps and ask all questions."
  (unless (stage-session-until 10 #'eglot-current-server) (error "No server is attached to the buffer"))
  (unless (derived-mode-p 'stage-mode) (error "The mode is %s" major-mode))
  (let ((steps (vconcat (mapcar #'stage-session-step (stage-session-read "STEPS"))))
        (questions (stage-session-read "QUESTIONS"))
        (hover "") definition formatted)
    (stage-session-goto (plist-get questions :part))
    (eldoc t)
    (stage-session-until 5 (lambda ()
                             (when (get-buffer "*eldoc*")
                               (setq hover (with-current-buffer "*eldoc*" (buffer-substring-no-properties (point-min) (point-max)))))
                             (string-match-p "R3, " hover)))
    (stage-session-goto (plist-get questions :mention))
    (call-interactively #'xref-find-definitions)
    (setq definition (1- (line-number-at-pos)))
    (stage-session-replace (plist-get (plist-get questions :part) :line) (plist-get questions :untidy))
    (eglot-format-buffer)
    (setq formatted (split-string (buffer-substring-no-properties (point-min) (point-max)) "\n"))
    (list :steps steps :hover hover :definition definition :formatted (vconcat (butlast formatted))
          :index (vconcat (mapcar #'car (imenu--make-index-alist))))))

(defun stage-session-run ()
  "Do all that and write it down."
  (let ((answers (condition-case fault (stage-session) (error (list :fault (format "%S" fault))))))
    (with-temp-file (getenv "ANSWERS")
      (set-buffer-multibyte nil)
      (insert (json-serialize answers)))
    (set-buffer-modified-p nil)
    (kill-emacs)))

;; Once the frame stands and the terminal has been asked what it is, so that all is drawn as for a person.
(add-hook 'emacs-startup-hook (lambda () (run-with-timer 1 nil #'stage-session-run)))
