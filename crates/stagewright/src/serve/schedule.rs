//! The scheduling table: where the work of a method is done, and what becomes of it when the text changes under it.

/// Where the work of a method is done.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Lane {
    /// By the owner of the state itself, at once and in the order sent.
    Edit,
    /// By the worker that is kept free for what a person waits for while typing.
    LatencySensitive,
    /// By any worker, after what is latency-sensitive.
    Worker,
}

/// What becomes of work that a newer text of the same document overtakes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Overtaken {
    /// It cannot be: it is done before the next message is looked at.
    Never,
    /// The request is answered "content modified" at once: the client, which sent the newer text, asks again.
    Refuse,
    /// It is done again on the newer text: the answer does not depend on a place that the client named.
    Retry,
    /// Nobody waits for it, and the newer text has started its own.
    Drop,
}

/// A line of the table.
#[derive(Clone, Copy, Debug)]
pub struct Line {
    /// The method's name in the protocol.
    pub method: &'static str,
    /// Where it is done.
    pub lane: Lane,
    /// What becomes of it when the text changes.
    pub overtaken: Overtaken,
    /// Milliseconds on a worker above which a turn is logged as slow.
    pub budget: u64,
}

const fn line(method: &'static str, lane: Lane, overtaken: Overtaken, budget: u64) -> Line {
    Line { method, lane, overtaken, budget }
}

/// What is asked of all designs at once is done by the thread that reads them (`workspace.rs`), and hangs on no view: no text overtakes it.
/// Milliseconds above which a turn is logged as slow.
pub const ERRANDS: &[(&str, u64)] =
    &[("workspace/symbol", 50), ("workspace/diagnostic", 50), ("workspace/willRenameFiles", 50)];

/// The table. A method that is neither in it nor in [`ERRANDS`] is answered by the framework itself.
///
/// Publishing is slow-laned on purpose: hints stand where the typist looks. Most of what both hang on is the same, so that one thread that
/// does both one after the other (a batch, in `workers.rs`) has the second almost as soon as the first.
pub const TABLE: &[Line] = &[
    line("textDocument/didOpen", Lane::Edit, Overtaken::Never, 4),
    line("textDocument/didChange", Lane::Edit, Overtaken::Never, 4),
    line("textDocument/didSave", Lane::Edit, Overtaken::Never, 4),
    line("textDocument/didClose", Lane::Edit, Overtaken::Never, 4),
    line("textDocument/inlayHint", Lane::LatencySensitive, Overtaken::Refuse, 8),
    line("inlayHint/resolve", Lane::LatencySensitive, Overtaken::Refuse, 50),
    line("textDocument/hover", Lane::LatencySensitive, Overtaken::Refuse, 50),
    line("textDocument/definition", Lane::LatencySensitive, Overtaken::Refuse, 50),
    line("textDocument/completion", Lane::LatencySensitive, Overtaken::Refuse, 8),
    line("textDocument/signatureHelp", Lane::LatencySensitive, Overtaken::Refuse, 8),
    line("completionItem/resolve", Lane::LatencySensitive, Overtaken::Retry, 8),
    line("textDocument/onTypeFormatting", Lane::LatencySensitive, Overtaken::Refuse, 8),
    line("textDocument/declaration", Lane::LatencySensitive, Overtaken::Refuse, 50),
    line("textDocument/typeDefinition", Lane::LatencySensitive, Overtaken::Refuse, 50),
    line("textDocument/references", Lane::LatencySensitive, Overtaken::Refuse, 50),
    line("textDocument/documentHighlight", Lane::LatencySensitive, Overtaken::Refuse, 8),
    line("textDocument/prepareRename", Lane::LatencySensitive, Overtaken::Refuse, 8),
    line("textDocument/rename", Lane::Worker, Overtaken::Refuse, 200),
    line("textDocument/linkedEditingRange", Lane::LatencySensitive, Overtaken::Refuse, 8),
    line("textDocument/selectionRange", Lane::LatencySensitive, Overtaken::Refuse, 8),
    line("textDocument/foldingRange", Lane::Worker, Overtaken::Retry, 8),
    line("textDocument/documentLink", Lane::Worker, Overtaken::Retry, 8),
    line("textDocument/codeAction", Lane::Worker, Overtaken::Refuse, 50),
    line("codeAction/resolve", Lane::Worker, Overtaken::Refuse, 50),
    line("textDocument/codeLens", Lane::Worker, Overtaken::Retry, 8),
    line("codeLens/resolve", Lane::Worker, Overtaken::Retry, 50),
    line("workspace/executeCommand", Lane::Worker, Overtaken::Retry, 200),
    line("textDocument/formatting", Lane::Worker, Overtaken::Refuse, 50),
    line("textDocument/rangeFormatting", Lane::Worker, Overtaken::Refuse, 50),
    line("textDocument/semanticTokens/range", Lane::Worker, Overtaken::Refuse, 8),
    line("textDocument/semanticTokens/full", Lane::Worker, Overtaken::Retry, 8),
    line("textDocument/semanticTokens/full/delta", Lane::Worker, Overtaken::Retry, 8),
    line("textDocument/documentSymbol", Lane::Worker, Overtaken::Retry, 50),
    line("textDocument/diagnostic", Lane::Worker, Overtaken::Retry, 8),
    line("textDocument/publishDiagnostics", Lane::Worker, Overtaken::Drop, 8),
];

/// The line of a method that stands in the table.
///
/// # Panics
/// If it does not: the methods are named in this crate, and a test walks through them.
pub fn line_of(method: &str) -> Line {
    *TABLE
        .iter()
        .find(|line| line.method == method)
        .unwrap_or_else(|| panic!("{method} is not in the scheduling table"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_method_stands_there_twice() {
        for (i, a) in TABLE.iter().enumerate() {
            assert!(TABLE[i + 1..].iter().all(|b| a.method != b.method), "{}", a.method);
        }
    }

    #[test]
    fn edits_and_only_edits_are_never_overtaken() {
        for line in TABLE {
            assert_eq!(line.lane == Lane::Edit, line.overtaken == Overtaken::Never, "{}", line.method);
        }
    }
}
