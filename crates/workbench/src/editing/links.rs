//! What leads out of a file: the files that it includes, and web addresses in comments and quotes, where data sheets tell their sources.

use std::collections::HashMap;
use std::ops::Range;

use notation::token::{TokenKind, tokens};

use crate::database::{Desk, Document, Include, include_headings, layout};

/// A place that leads somewhere.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Link {
    /// Bytes of the file.
    pub range: Range<usize>,
    /// Where to.
    pub to: LinkTo,
}

/// Where a link leads.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum LinkTo {
    /// A file, by its name in the workbench.
    File(String),
    /// A web address.
    Web(String),
}

/// All links of a file, in the order of their places.
pub(crate) fn links(db: &dyn Desk, known: &HashMap<String, Document>, document: Document) -> Vec<Link> {
    let (layout, text) = (layout(db, document), document.text(db));
    let mut found = Vec::new();
    for (block, word) in include_headings(db, document) {
        let Some(heading) = layout.blocks.get(block as usize).and_then(|b| b.heading.as_ref()) else { continue };
        let Some(Include::File(other, _)) = document.includes(db).get(&*word.text) else { continue };
        let Some((path, _)) = known.iter().find(|(_, d)| *d == other) else { continue };
        let start = heading.range.start;
        let range = start + word.span.start as usize..start + word.span.end as usize;
        found.push(Link { range: unquoted(text, range), to: LinkTo::File(path.clone()) });
    }
    found.extend(addresses(text));
    found.sort_by_key(|l| l.range.start);
    found
}

/// Web addresses in comments and quoted texts.
fn addresses(text: &str) -> Vec<Link> {
    let mut found = Vec::new();
    let mut at = 0;
    for line in text.split_inclusive('\n') {
        let start = at;
        at += line.len();
        if !line.contains("://") {
            continue;
        }
        for token in tokens(line).iter().filter(|t| matches!(t.kind, TokenKind::Comment | TokenKind::Text)) {
            let said = &line[token.span.range()];
            let from = start + token.span.start as usize;
            for scheme in ["https://", "http://"] {
                for (i, _) in said.match_indices(scheme) {
                    let address = address(&said[i..]);
                    if address.len() > scheme.len() {
                        let range = from + i..from + i + address.len();
                        found.push(Link { range, to: LinkTo::Web(address.to_string()) });
                    }
                }
            }
        }
    }
    found
}

/// The address that a text begins with: to a blank or a quote, without the punctuation that ends the sentence around it.
fn address(text: &str) -> &str {
    let end = text.find(|c: char| c.is_whitespace() || matches!(c, '"' | '<' | '>')).unwrap_or(text.len());
    let mut address = &text[..end];
    loop {
        let plain = address.trim_end_matches(['.', ',', ';', ':', '!', '?', '\'']);
        // A bracket is the sentence's unless it was opened in the address.
        let closed = plain.ends_with(')') && plain.matches(')').count() > plain.matches('(').count();
        address = if closed { &plain[..plain.len() - 1] } else { plain };
        if !closed {
            return address;
        }
    }
}

/// The place of a quoted text without its marks.
pub(crate) fn unquoted(text: &str, range: Range<usize>) -> Range<usize> {
    let said = &text[range.clone()];
    let inside = said.strip_prefix('"').unwrap_or(said);
    let start = range.end - inside.len();
    start..start + inside.strip_suffix('"').unwrap_or(inside).len()
}
