//! A workbench for tests of the server alone: a language of a few words whose answers are plain to see, and that can be told to dawdle
//! and to break.
//!
//! A line is a name and figures. Its hint is the sum of all figures of the file, so that an edit anywhere shows everywhere.
//! * A figure `?` has no value yet: no sum is known. A line that ends with `--` is unfinished: the text is torn.
//! * `bad` is an error with a way out, `odd` a warning, `fyi` a note.
//! * Hovering over `gate` waits until the test opens the gate, or until an edit overtakes it; over `panic` it panics.

use std::any::Any;
use std::collections::HashMap;
use std::ops::Range;
use std::panic::resume_unwind;
use std::sync::atomic::{AtomicU64, AtomicUsize, Ordering};
use std::sync::{Arc, Condvar, Mutex, PoisonError};
use std::time::Duration;

use stagewright::serve::{Bench, View};
use workbench::{
    Edit, Fix, Hint, HintKind, Hover, Mark, Problem, Severity, Symbol, SymbolKind, Token, TokenKind, Unfinished,
};

/// The test's hand on the toy.
#[derive(Clone, Default)]
pub struct Gate {
    open: Arc<(Mutex<bool>, Condvar)>,
    entered: Arc<AtomicUsize>,
}

impl Gate {
    /// Lets everyone through who waits and who will come.
    pub fn open(&self) {
        *self.open.0.lock().unwrap_or_else(PoisonError::into_inner) = true;
        self.open.1.notify_all();
    }
    /// How many have begun to wait.
    pub fn entered(&self) -> usize {
        self.entered.load(Ordering::SeqCst)
    }
    /// Waits until so many have begun to wait.
    pub fn wait_for(&self, count: usize) {
        while self.entered() < count {
            std::thread::sleep(Duration::from_millis(1));
        }
    }
    fn pass(&self, overtaken: impl Fn()) {
        self.entered.fetch_add(1, Ordering::SeqCst);
        // One who was overtaken while waiting leaves the lock poisoned.
        let mut open = self.open.0.lock().unwrap_or_else(PoisonError::into_inner);
        while !*open {
            overtaken();
            open = self.open.1.wait_timeout(open, Duration::from_millis(1)).unwrap_or_else(PoisonError::into_inner).0;
        }
    }
}

/// The toy.
#[derive(Default)]
pub struct Toy {
    texts: Arc<HashMap<String, Arc<str>>>,
    revision: Arc<AtomicU64>,
    views: Arc<()>,
    gate: Gate,
}

/// Its texts at one time.
#[derive(Clone)]
pub struct ToyView {
    texts: Arc<HashMap<String, Arc<str>>>,
    revision: Arc<AtomicU64>,
    taken: u64,
    gate: Gate,
    _alive: Arc<()>,
}

struct Overtaken;

impl Toy {
    /// A toy whose gate the test holds.
    pub fn with(gate: &Gate) -> Self {
        Self { gate: gate.clone(), ..Self::default() }
    }

    /// As the real one does: views are told that they are of no more use, and waited for.
    fn edit(&mut self, edit: impl FnOnce(&mut HashMap<String, Arc<str>>)) {
        self.revision.fetch_add(1, Ordering::SeqCst);
        while Arc::strong_count(&self.views) > 1 {
            std::thread::yield_now();
        }
        edit(Arc::make_mut(&mut self.texts));
    }
}

impl Bench for Toy {
    type View = ToyView;
    fn set_text(&mut self, path: &str, text: String) {
        self.edit(|texts| drop(texts.insert(path.to_string(), text.into())));
    }
    fn close(&mut self, path: &str) {
        self.edit(|texts| drop(texts.remove(path)));
    }
    fn view(&self) -> ToyView {
        ToyView {
            texts: self.texts.clone(),
            revision: self.revision.clone(),
            taken: self.revision.load(Ordering::SeqCst),
            gate: self.gate.clone(),
            _alive: self.views.clone(),
        }
    }
}

/// A line with its number and the byte that it begins at.
fn lines(text: &str) -> impl Iterator<Item = (u32, usize, &str)> {
    let mut at = 0;
    text.split('\n').enumerate().map(move |(i, line)| {
        let start = at;
        at += line.len() + 1;
        (i as u32, start, line.trim_end_matches('\r'))
    })
}

impl ToyView {
    fn text(&self, path: &str) -> Arc<str> {
        self.stop_if_overtaken();
        self.texts.get(path).cloned().unwrap_or_default()
    }
    fn stop_if_overtaken(&self) {
        if self.revision.load(Ordering::SeqCst) != self.taken {
            resume_unwind(Box::new(Overtaken));
        }
    }
    fn torn(&self, path: &str) -> Option<u32> {
        let text = self.text(path);
        lines(&text).find(|(_, _, line)| line.ends_with("--")).map(|(i, _, _)| i)
    }
    fn sum(text: &str) -> i64 {
        text.split_whitespace().filter_map(|word| word.parse::<i64>().ok()).sum()
    }
}

impl View for ToyView {
    fn problems(&self, path: &str) -> Arc<Vec<Problem>> {
        let text = self.text(path);
        let mut problems = Vec::new();
        let kinds = [("bad", Severity::Error), ("odd", Severity::Warning), ("fyi", Severity::Note)];
        for (_, start, line) in lines(&text) {
            for (id, severity) in kinds {
                for (at, _) in line.match_indices(id) {
                    let range = start + at..start + at + id.len();
                    let edits = vec![Edit { range: range.clone(), text: "good".into() }];
                    let fixes = if id == "bad" { vec![Fix { title: "write good".into(), edits }] } else { Vec::new() };
                    let (message, names) = (format!("{id} is said here"), Vec::new());
                    problems.push(Problem { range, severity, id, message, names, fixes, unfinished: false });
                }
            }
            if line.ends_with("--") {
                let end = start + line.len();
                problems.push(Problem {
                    range: end..end,
                    severity: Severity::Error,
                    id: "unfinished-line",
                    message: "something is missing behind --".into(),
                    names: Vec::new(),
                    fixes: Vec::new(),
                    unfinished: true,
                });
            }
        }
        Arc::new(problems)
    }

    fn hints(&self, path: &str, range: Option<Range<usize>>) -> Vec<Hint> {
        let text = self.text(path);
        let (label, mark) = match self.torn(path) {
            Some(line) => (format!("unknown: line {} is unfinished", line + 1), Mark::Unknown),
            None if text.contains('?') => ("unknown: a value is missing".to_string(), Mark::Unknown),
            None => (format!("sum {}", Self::sum(&text)), Mark::Exact),
        };
        let hint = |(line, start, words): (u32, usize, &str)| {
            let name = words.split_whitespace().next()?;
            let at = start + words.len();
            // As with a part whose end is missing, the unfinished line itself says nothing.
            let there =
                range.as_ref().is_none_or(|range| range.contains(&at) || range.end == at) && !words.ends_with("--");
            there.then(|| Hint {
                key: format!("line {name}"),
                at,
                line,
                label: label.clone(),
                kind: HintKind::Part,
                mark,
                tooltip: None,
            })
        };
        lines(&text).filter_map(hint).collect()
    }

    fn hover(&self, path: &str, offset: usize) -> Option<Hover> {
        let text = self.text(path);
        let start = text[..offset].rfind(char::is_whitespace).map_or(0, |at| at + 1);
        let end = text[offset..].find(char::is_whitespace).map_or(text.len(), |at| at + offset);
        let word = &text[start..end];
        match word {
            "gate" => self.gate.pass(|| self.stop_if_overtaken()),
            "panic" => panic!("the toy was told to"),
            _ => {}
        }
        let plain = format!("{word} of {}", Self::sum(&text));
        Some(Hover { range: start..end, markdown: format!("*{plain}*"), plain, picture: None })
    }

    fn symbols(&self, path: &str) -> Vec<Symbol> {
        let text = self.text(path);
        let symbol = |(start, words): (usize, &str), kind, children| Symbol {
            name: words.split_whitespace().next().unwrap_or("nothing").to_string(),
            detail: Self::sum(&text).to_string(),
            kind,
            range: start..start + words.len(),
            selection: start..start + words.len().min(1),
            children,
        };
        let mut lines = lines(&text).map(|(_, start, words)| (start, words));
        let Some(first) = lines.next() else {
            return Vec::new();
        };
        let children = lines.map(|line| symbol(line, SymbolKind::Part, Vec::new())).collect();
        vec![symbol(first, SymbolKind::Stage, children)]
    }

    fn tokens(&self, path: &str, range: Option<Range<usize>>) -> Vec<Token> {
        let text = self.text(path);
        let first = |(_, start, line): (u32, usize, &str)| {
            let end = line.find(' ').unwrap_or(line.len());
            let token = Token { range: start..start + end, kind: TokenKind::Heading, definition: true };
            (end > 0 && range.as_ref().is_none_or(|r| r.start <= start + end && start <= r.end)).then_some(token)
        };
        lines(&text).filter_map(first).collect()
    }

    fn unfinished(&self, path: &str) -> Vec<Unfinished> {
        let line = |i| Unfinished { lines: i..i + 1, file: None, alone: false };
        self.torn(path).map(line).into_iter().collect()
    }

    fn overtaken(payload: &(dyn Any + Send)) -> bool {
        payload.is::<Overtaken>()
    }
}
