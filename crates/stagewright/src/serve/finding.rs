//! Names in all designs of the client's folders, the nearest first.

use tower_lsp::ls_types as lsp;
use workbench::editing::index::{Made, MadeKind};

use super::position::Text;
use super::translate;
use super::workspace::{Around, Errand, Known};

/// So many are told: nobody reads on, who may type one letter more.
const TOLD: usize = 128;

/// The request.
#[derive(Debug)]
pub struct Finding {
    /// What was typed: letters of the name in their order; in front of a dot or a blank, letters of what it stands in.
    pub query: String,
}

impl Errand for Finding {
    type Answer = Option<lsp::WorkspaceSymbolResponse>;
    const METHOD: &'static str = "workspace/symbol";
    fn compute(&self, around: &Around) -> Self::Answer {
        let words: Vec<String> = self
            .query
            .split(|c: char| c == '.' || c.is_whitespace())
            .filter(|w| !w.is_empty())
            .map(str::to_lowercase)
            .collect();
        let designs: Vec<Known> = around.designs().collect();
        let mut found: Vec<(u32, &Made, &Known)> = Vec::new();
        for known in &designs {
            found.extend(known.contents.names.iter().filter_map(|made| Some((rank(&words, made)?, made, known))));
        }
        found.sort_by_key(|(rank, made, known)| (*rank, made.name.len(), &made.name, known.path, made.range.start));
        found.truncate(TOLD);
        let one = |(_, made, known): (u32, &Made, &Known)| Some(symbol(made, known.addressed()?.uri, &known.text));
        Some(lsp::WorkspaceSymbolResponse::Flat(found.into_iter().filter_map(one).collect()))
    }
}

// The field that was deprecated in favour of tags has to be written all the same.
#[allow(deprecated)]
fn symbol(made: &Made, uri: lsp::Uri, text: &Text) -> lsp::SymbolInformation {
    let kind = match made.kind {
        MadeKind::Design => lsp::SymbolKind::FILE,
        MadeKind::Stage => lsp::SymbolKind::MODULE,
        MadeKind::Part => lsp::SymbolKind::FIELD,
        MadeKind::Value => lsp::SymbolKind::CONSTANT,
        MadeKind::Setting => lsp::SymbolKind::ENUM_MEMBER,
        MadeKind::Pair => lsp::SymbolKind::KEY,
        MadeKind::Sheet => lsp::SymbolKind::STRUCT,
    };
    lsp::SymbolInformation {
        kind,
        tags: None,
        deprecated: None,
        location: lsp::Location { uri, range: translate::range(text.span(&made.range)) },
        name: made.name.clone(),
        container_name: (!made.container.is_empty()).then(|| made.container.clone()),
    }
}

/// How far a name is from what was typed, 0 the nearest; nothing if it is another.
fn rank(words: &[String], made: &Made) -> Option<u32> {
    let Some((name, containers)) = words.split_last() else { return Some(0) };
    let own = distance(name, &made.name)?;
    let container = containers.iter().map(|w| distance(w, &made.container)).sum::<Option<u32>>()?;
    // Among names that are as near, stages and data sheets go before what stands in them.
    Some(4 * own + container + u32::from(matches!(made.kind, MadeKind::Part)))
}

/// The letters in their order: at once, from the beginning, in one piece, or with gaps, of which each costs one.
fn distance(typed: &str, name: &str) -> Option<u32> {
    let name = name.to_lowercase();
    if name == typed {
        return Some(0);
    }
    if name.starts_with(typed) {
        return Some(1);
    }
    if let Some(at) = name.find(typed) {
        return Some(if name[..at].ends_with('_') { 2 } else { 3 });
    }
    let mut rest = name.chars();
    let mut gaps = 0;
    for c in typed.chars() {
        let passed = rest.by_ref().position(|n| n == c)?;
        gaps += u32::from(passed > 0);
    }
    Some(4 + gaps)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_nearest_name_comes_first() {
        let far = |typed: &str, name: &str| distance(typed, name);
        assert_eq!(far("preamp", "preamp"), Some(0));
        assert_eq!(far("pre", "Preamp"), Some(1));
        assert_eq!(far("amp", "mic_amp"), Some(2));
        assert_eq!(far("amp", "preamp"), Some(3));
        assert!(far("pmp", "preamp") > far("pre", "preamp") && far("pmp", "preamp").is_some());
        assert_eq!(far("x", "preamp"), None);
        assert_eq!(far("ppp", "preamp"), None);
    }
}
