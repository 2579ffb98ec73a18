;;; stage-mode.el --- Designs of analog signal chains in the stage notation  -*- lexical-binding: t; -*-

;; SPDX-License-Identifier: MIT OR Apache-2.0
;; Version: 0.1.0
;; Package-Requires: ((emacs "29.1"))
;; Keywords: languages, hardware

;;; Commentary:

;; A major mode for *.stage: highlighting, comments, indentation, an index
;; of the stages, and the language server through Eglot.  It needs no
;; tree-sitter.  To have the server's readings beside the lines:
;;
;;   (require 'stage-mode)
;;   (add-hook 'stage-mode-hook #'eglot-ensure)

;;; Code:

(require 'cl-lib)
(require 'eglot)

(declare-function eglot--update-hints-1 "eglot" (from to))

(defgroup stage nil
  "Designs of analog signal chains in the stage notation."
  :group 'languages)

(defcustom stage-mode-server '("stagewright" "serve")
  "The command that starts the language server, as a list of words."
  :type '(repeat string))

(defcustom stage-mode-indent 2
  "How far the entries of a heading are indented."
  :type 'natnum)

;;; The words

(defconst stage-mode--headings
  '("design" "let" "stage" "use" "include" "datasheet" "assume" "formula" "require"))

(defconst stage-mode--heading-regexp
  (concat "^" (regexp-opt stage-mode--headings t) "\\(?:[^A-Za-z0-9_.]\\|$\\)"))

(defconst stage-mode--entries
  '("band" "reference" "temperature" "supply" "source" "tolerance" "matched" "balanced" "setting" "trim"
    "accept"))

(defconst stage-mode--clauses
  '("all" "above" "against" "at" "below" "from" "of" "on" "over" "when" "within"))

(defconst stage-mode--attributes
  '("at" "polar" "bipolar" "film" "foil" "ceramic" "electrolytic" "tantalum" "mica" "polyester"
    "polypropylene" "polystyrene" "paper" "c0g" "np0" "x5r" "x6s" "x7r" "x7s" "x8r" "y5v" "z5u" "carbon"
    "metal" "thin" "thick" "wirewound" "air" "ferrite" "iron" "lin" "log" "revlog" "open" "closed"
    "external" "unfitted"))

(defconst stage-mode--functions
  '("sqrt" "ln" "log10" "exp" "min" "max" "abs" "Z" "cw" "ccw"))

(defconst stage-mode--terminals '("out" "supply" "pole" "cw" "ccw" "wiper"))

(defconst stage-mode--blank "[ \t\u00a0\u2009\u202f]")

(defconst stage-mode--reading
  (concat "\\(?:"
          (mapconcat (lambda (phrase) (string-replace " " (concat stage-mode--blank "+") phrase))
                     '("transimpedance" "gain margin" "gain" "phase margin" "phase" "delay" "low corner"
                       "high corner" "flatness" "input impedance" "output impedance" "impedance"
                       "clip level" "level" "headroom" "input noise density" "input noise"
                       "noise density" "noise" "offset" "dc" "natural frequency" "q" "rejection"
                       "balance" "power" "voltage" "supply current" "current"
                       "dissipation")
                     "\\|")
          "\\)\\(?:[^A-Za-z0-9_.]\\|$\\)"))

(defconst stage-mode--figure
  (concat "[0-9]+\\(?:\\.[0-9]+\\)?\\(?:e[-+−]?[0-9]+\\)?[A-Za-z0-9µμΩΩ]*"
          "\\(?:/\\(?:\\(?:√\\|rt\\)Hz\\|[umµμ]s\\)\\)?"))

(defconst stage-mode--unit
  (concat "\\(?:%\\|\\(?:[fpnumµμkMGT]?[VA]/\\(?:\\(?:√\\|rt\\)Hz\\|[umµμ]s\\)"
          "\\|[fpnumµμkMGT]?\\(?:ohm\\|Hz\\|[VAWFHsΩΩ]\\)"
          "\\|dBu\\|dBV\\|dB\\|degC\\|deg\\|°C\\|°\\)\\(?:[^A-Za-z0-9_]\\|$\\)\\)"))

(defconst stage-mode--name "[A-Za-z_][A-Za-z0-9_]*\\(?:\\.[A-Za-z_][A-Za-z0-9_]*\\)*")

(defconst stage-mode--part "\\`\\(?:[A-Za-z_][A-Za-z0-9_]*\\.\\)*[A-Z][A-Z]?[0-9]+[a-z]?\\'")

(defconst stage-mode--amplifier "\\`\\(?:[A-Za-z_][A-Za-z0-9_]*\\.\\)*U[0-9]+[a-z]?\\'")

;; What looks like a mark of the notation and is none.
(defconst stage-mode--slip
  (concat "-->\\|---+\\|[–—≤≥{};]\\|<=\\|>=\\|=>\\|\\+-\\||||+\\||\\(?:[^|]\\|$\\)"
          "\\|[0-9]+,[0-9][A-Za-z0-9µμΩ]*\\|\\.[0-9]+[A-Za-z0-9µμΩ]*"))

(defconst stage-mode--operator "--\\|->\\|→\\|||\\|∥\\|\\.\\.\\|±\\|\\+/-\\|[<>=*/^×·+−-]")

(defconst stage-mode--faces
  '((heading . font-lock-keyword-face) (label . font-lock-function-name-face) (word . font-lock-preprocessor-face)
    (reading . font-lock-builtin-face) (clause . font-lock-keyword-face) (part . font-lock-type-face)
    (type . font-lock-type-face) (name . font-lock-variable-use-face) (ground . font-lock-constant-face)
    (datum . font-lock-property-name-face) (figure . font-lock-number-face) (unit . font-lock-number-face)
    (constant . font-lock-constant-face) (attribute . font-lock-doc-markup-face)
    (function . font-lock-function-call-face) (op . font-lock-operator-face)
    (mark . font-lock-delimiter-face) (string . font-lock-string-face) (slip . font-lock-warning-face))
  "The face of each class of words.")

;;; Highlighting

;; Most words of the notation are words at their place only, and may name a
;; node elsewhere.  So a line is read from its left, in the light of its
;; heading.

(defun stage-mode--block ()
  "The word of the heading that the line at point is or stands below, or nil."
  (save-excursion
    (end-of-line)
    (and (re-search-backward stage-mode--heading-regexp nil t) (match-string-no-properties 1))))

(defun stage-mode--tokens ()
  "The words of the line at point as a list of (BEGINNING END CLASS)."
  (let ((case-fold-search nil)
        (block (stage-mode--block))
        (end (line-end-position))
        (heading (save-excursion (beginning-of-line) (looking-at stage-mode--heading-regexp)))
        tokens first last depth element terminals expression)
    (setq depth 0)
    (save-excursion
      (beginning-of-line)
      (cl-flet ((take (class length)
                  (push (list (point) (+ (point) length) class) tokens)
                  (forward-char length)))
        (while (progn (skip-chars-forward " \t\u00a0\u2009\u202f" end) (< (point) end))
          (let* ((before last)
                 (begins (not first))
                 (in-stage (and (member block '("stage" "use")) (not heading)))
                 (text nil))
            (setq last nil)
            (cond
             ((eq (char-after) ?#) (goto-char end))
             ;; A text that is closed has its face already.
             ((looking-at "\"[^\"\n]*\"") (goto-char (match-end 0)) (setq last 'string))
             ((eq (char-after) ?\") (take 'string (- end (point))))
             ;; A type may begin with a digit: the names of amplifiers do.
             ((and (eq before 'amplifier) (looking-at "[A-Za-z0-9_]+"))
              (take 'type (- (match-end 0) (point))))
             ((looking-at "\\(?:A\\|468\\)-weighted")
              (take 'constant (- (match-end 0) (point))))
             ((and terminals (memq before '(colon comma)) (looking-at "[-+−]\\|[0-9]+"))
              (take 'word (- (match-end 0) (point))))
             ((and (looking-at stage-mode--slip)
                   (not (looking-at "\\.\\.\\|\\+/-\\|||\\(?:[^|]\\|$\\)")))
              (take 'slip (if (eq (char-after) ?|) (stage-mode--bars) (- (match-end 0) (point)))))
             ((and (looking-at stage-mode--unit) (memq before '(figure type)))
              (take 'unit (- (if (eq (char-after) ?%) (1+ (point)) (stage-mode--word-end)) (point)))
              (setq last 'unit))
             ((looking-at stage-mode--figure)
              (take (if (and heading (equal block "datasheet") (eq before 'heading)) 'type 'figure)
                    (- (match-end 0) (point)))
              (setq last 'figure))
             ((looking-at stage-mode--operator)
              (take 'op (- (match-end 0) (point)))
              (setq last 'op)
              (when (member (match-string 0) '("--" "||" "∥")) (when (= depth 0) (setq element nil)))
              (when (equal (match-string 0) "=") (setq expression t)))
             ((looking-at "[:,()]")
              (let ((mark (char-after)))
                (take 'mark 1)
                (setq last (pcase mark (?: 'colon) (?, 'comma) (_ 'mark)))
                (pcase mark
                  (?\( (setq depth (1+ depth)))
                  (?\) (setq depth (max 0 (1- depth))))
                  (?: (when (and in-stage (memq first '(part amplifier))) (setq terminals t element nil)))
                  (?, (when (and in-stage begins) (setq terminals t))
                      (when (= depth 0) (setq element nil))))))
             ((looking-at stage-mode--name)
              (setq text (match-string-no-properties 0))
              (cond
               ((and heading begins) (take 'heading (length text)) (setq last 'heading))
               ((and heading (equal block "use") (equal text "as") (eq before 'label))
                (take 'heading 2) (setq last 'heading))
               ((and heading (member block '("stage" "use")) (eq before 'heading))
                (take 'label (length text)) (setq last 'label))
               ((and heading (equal block "datasheet") (eq before 'heading)) (take 'type (length text)))
               ((and (equal block "design") begins (member text stage-mode--entries))
                (take 'word (length text)) (setq last (intern text)))
               ((and (memq before '(setting balanced)) (looking-at (concat stage-mode--name stage-mode--blank "*:")))
                (take 'label (length text)))
               ((and (equal block "assume") begins (equal text "stage")) (take 'word 5) (setq last 'word))
               ((and (or (and begins (member block '("formula" "require")))
                         (and (eq before 'on) (member block '("design" "assume")))
                         (and (eq before 'colon) (equal block "design") (eq first 'trim)))
                     (looking-at stage-mode--reading))
                (take 'reading (- (stage-mode--reading-end) (point))) (setq last 'reading))
               ((and terminals (memq before '(colon comma)) (member text stage-mode--terminals))
                (take 'word (length text)))
               ((equal text "gnd") (take 'ground 3) (setq last 'name))
               ((string-match-p stage-mode--part text)
                (take (if (string-match-p "\\`E[0-9]+\\'" text)
                          (if (and (or element (equal block "design"))
                                   (member text '("E3" "E6" "E12" "E24" "E48" "E96" "E192")))
                              'constant 'part)
                        'part)
                      (length text))
                (setq last (if (and in-stage (not (eq depth 1)) (string-match-p stage-mode--amplifier text)) 'amplifier 'part))
                (when (and in-stage (= depth 0) (not terminals)) (setq element t)))
               (t
                (take (stage-mode--class text block heading depth element expression before)
                      (length text))
                (setq last (if (equal text "on") 'on 'name)))))
             (t (forward-char 1)))
            (unless first (setq first (or last 'other)))))))
    tokens))

(defun stage-mode--bars ()
  "How many bars stand at point."
  (save-excursion (skip-chars-forward "|")))

(defun stage-mode--word-end ()
  "Where the unit at point ends."
  (save-excursion
    (skip-chars-forward "A-Za-z0-9µμΩΩ°")
    (when (looking-at "/\\(?:\\(?:√\\|rt\\)Hz\\|[umµμ]s\\)") (goto-char (match-end 0)))
    (point)))

(defun stage-mode--reading-end ()
  "Where the reading that was just matched at point ends."
  (let ((end (match-end 0)))
    (save-excursion
      (goto-char end)
      (unless (eolp) (backward-char))
      (when (looking-back "[^A-Za-z]" (1- (point))) (skip-chars-backward "^A-Za-z"))
      (point))))

(defun stage-mode--class (text block heading depth element expression before)
  "The class of TEXT, a name by its shape, in a BLOCK.
HEADING tells that the line is the heading itself, DEPTH how many
parentheses are open, ELEMENT that a part stands before it,
EXPRESSION that an equals sign does, and BEFORE what does at once."
  (let ((called (looking-at (concat stage-mode--name stage-mode--blank "*("))))
    (cond
     ((member block '("stage" "use"))
      (cond (heading 'name)
            ((> depth 0) (stage-mode--in-expression text called))
            ((and element (member (replace-regexp-in-string "\\(log\\)[0-9]+\\'" "\\1" text) stage-mode--attributes))
             'attribute)
            (t 'name)))
     ((equal block "let") (if expression (stage-mode--in-expression text called) 'name))
     ((equal block "datasheet") (if (and (not heading) (member text '("typ" "min" "max"))) 'word 'datum))
     ((equal block "assume")
      (cond ((member text stage-mode--clauses) 'clause)
            ((member text '("short" "open" "ideal")) 'attribute)
            (t 'name)))
     ((and (equal block "formula") expression) (stage-mode--in-expression text called))
     ((member block '("formula" "require"))
      (cond ((member text stage-mode--clauses) 'clause)
            ((and (member text '("open" "closed")) (eq before 'part)) 'attribute)
            (t 'name)))
     ((equal block "design")
      (cond ((member text stage-mode--clauses) 'clause)
            ((equal text "for") 'clause)
            ((member text '("R" "C" "L" "U" "VR" "SW")) 'part)
            ((member text '("peak" "pp")) 'unit)
            ((and (member text '("open" "closed")) (eq before 'part)) 'attribute)
            (t 'name)))
     (t 'name))))

(defun stage-mode--in-expression (text called)
  "The class of TEXT in an expression; a parenthesis follows if CALLED."
  (cond ((and called (member text stage-mode--functions)) 'function)
        ((member text '("pi" "s" "f" "w")) 'constant)
        (t 'name)))

(defun stage-mode--fontify (limit)
  "Highlight the lines from point to LIMIT; comments have theirs."
  (while (< (point) limit)
    (dolist (token (stage-mode--tokens))
      (put-text-property (nth 0 token) (nth 1 token) 'face (alist-get (nth 2 token) stage-mode--faces)))
    (forward-line 1))
  nil)

(defun stage-mode--syntax-propertize (start end)
  "Let a text that is not closed end with its line, between START and END."
  (goto-char start)
  (while (re-search-forward "[\"#]" end t)
    (let ((begin (match-beginning 0)))
      (cond ((eq (char-after begin) ?#) (end-of-line))
            ((not (search-forward "\"" (line-end-position) t))
             (put-text-property begin (1+ begin) 'syntax-table (string-to-syntax "."))
             (end-of-line))))))

(defvar stage-mode-syntax-table
  (let ((table (make-syntax-table)))
    (modify-syntax-entry ?# "<" table)
    (modify-syntax-entry ?\n ">" table)
    (modify-syntax-entry ?\" "\"" table)
    (modify-syntax-entry ?\\ "." table)
    (modify-syntax-entry ?_ "_" table)
    (modify-syntax-entry ?µ "w" table)
    (modify-syntax-entry ?Ω "w" table)
    table)
  "Comments, texts and names of the stage notation.")

;;; Indentation

;; A heading stands in column 0 and its entries are indented; how far does
;; not matter.  So the line below a heading moves in, a heading moves out, and
;; an entry that is indented keeps its place.

(defun stage-mode-indent-line ()
  "Indent the line at point."
  (interactive)
  (let* ((case-fold-search nil)
         (wanted
          (save-excursion
            (back-to-indentation)
            (cond
             ;; `stage' begins an entry too, which only its colon tells from a heading.
             ((or (looking-at "\\(?:design\\|let\\|use\\|include\\|datasheet\\|assume\\|formula\\|require\\)\\_>")
                  (looking-at "stage\\_>[^#\n]*:"))
              0)
             ((and (> (current-column) 0) (not (eolp))) (current-column))
             ((looking-at "#") (current-column))
             ((/= (forward-line -1) 0) 0)
             ((looking-at stage-mode--heading-regexp) stage-mode-indent)
             ((looking-at "[ \t]*$") 0)
             (t (current-indentation))))))
    (if (<= (current-column) (current-indentation))
        (indent-line-to wanted)
      (save-excursion (indent-line-to wanted)))))

;;; Readings

;; An edit moves figures above it too, and figures in files that include this
;; one.  Eglot draws anew what is highlighted anew, which is the line of the
;; edit and what stands below it, and skips a region that it drew last; so
;; what is seen is asked for here, at every edit and whenever the server has
;; judged the text.

(defvar-local stage-mode--timers nil
  "The timers that will ask for the readings.")

(defun stage-mode--fetch ()
  "Ask for the readings of what is seen of the current buffer."
  (let ((windows (get-buffer-window-list nil nil t)))
    (when (and windows (bound-and-true-p eglot-inlay-hints-mode) (eglot-current-server)
               (fboundp 'eglot--update-hints-1))
      (eglot--update-hints-1 (apply #'min (mapcar #'window-start windows))
                             (apply #'max (mapcar (lambda (window) (window-end window t)) windows))))))

(defun stage-mode--fetch-soon (&rest _)
  "Ask for the readings once Emacs has nothing else to do.
Ask again when the word that was typed counts as meant: until then
the server may have kept what stood there."
  (mapc #'cancel-timer stage-mode--timers)
  (let* ((buffer (current-buffer))
         (fetch (lambda ()
                  (when (buffer-live-p buffer)
                    (with-current-buffer buffer (stage-mode--fetch))))))
    (setq stage-mode--timers
          (mapcar (lambda (seconds) (run-with-idle-timer seconds nil fetch)) '(0.01 0.4)))))

(defun stage-mode--scrolled (window _start)
  "Ask for the readings of what has come into WINDOW."
  (with-current-buffer (window-buffer window) (stage-mode--fetch-soon)))

(cl-defmethod eglot-handle-notification :after (_server (_method (eql textDocument/publishDiagnostics)) &rest _)
  "Ask for the readings anew when the text has been judged."
  (dolist (buffer (buffer-list))
    (with-current-buffer buffer
      (when (derived-mode-p 'stage-mode) (stage-mode--fetch-soon)))))

;;; The mode

(defvar stage-mode-imenu
  `((nil ,(concat "^stage[ \t]+\\(" stage-mode--name "\\)") 1)
    ("Copies" ,(concat "^use[ \t]+.*\\_<as[ \t]+\\(" stage-mode--name "\\)") 1)
    ("Data sheets" "^datasheet[ \t]+\\([A-Za-z0-9_]+\\)" 1)
    ("Statements" "^\\(design\\|let\\|assume\\|formula\\|require\\)\\_>" 1))
  "Where the stages of a design are.")

;;;###autoload
(define-derived-mode stage-mode prog-mode "Stage"
  "Major mode for designs of analog signal chains in the stage notation."
  :group 'stage
  (setq-local comment-start "# ")
  (setq-local comment-end "")
  (setq-local comment-start-skip "#+[ \t]*")
  (setq-local indent-tabs-mode nil)
  (setq-local indent-line-function #'stage-mode-indent-line)
  (setq-local tab-width stage-mode-indent)
  (setq-local syntax-propertize-function #'stage-mode--syntax-propertize)
  (setq-local font-lock-defaults '(((stage-mode--fontify (0 nil)))))
  (setq-local imenu-generic-expression stage-mode-imenu)
  (setq-local imenu-case-fold-search nil)
  (setq-local outline-regexp (concat (regexp-opt stage-mode--headings) "\\_>"))
  ;; Every keystroke is sent at once: the server is made to keep up, and skips what has been overtaken.
  (setq-local eglot-send-changes-idle-time 0)
  (add-hook 'after-change-functions #'stage-mode--fetch-soon nil t)
  (add-hook 'window-scroll-functions #'stage-mode--scrolled nil t))

;;;###autoload
(add-to-list 'auto-mode-alist '("\\.stage\\'" . stage-mode))

(add-to-list 'eglot-server-programs (cons 'stage-mode (lambda (&rest _) stage-mode-server)))

(provide 'stage-mode)

;;; stage-mode.el ends here
