//! Completion: what can stand at the cursor, with the documentation of one item when it is looked at.
//!
//! No item has characters that accept it: wherever a name may stand a new one may be typed too, and a comma behind it must not turn it
//! into another's.

use serde_json::{Value, json};
use tower_lsp::ls_types as lsp;
use workbench::{About, Completion as Item, CompletionKind as Kind, Completions, Edit, Piece, Told};

use super::bench::{Neighbour, View};
use super::position::Position;
use super::snippet::snippet;
use super::translate;
use super::work::{Context, Feature};

/// Characters behind which a client asks by itself. A blank is answered only where what stands in front of it asks for a name, and
/// a slash and a quotation mark only in the path of an `include`.
const TRIGGERS: [&str; 4] = [" ", ".", "\"", "/"];

/// What the client can make of completions.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Able {
    /// Places to be filled in; else the text comes as it stands.
    pub snippets: bool,
    /// It can both insert in front of the rest of a word and replace all of it.
    pub inserts_or_replaces: bool,
    /// A few words may stand beside the label.
    pub label_details: bool,
    /// Documentation may be Markdown.
    pub markdown: bool,
    /// Lines can be kept as they are, without the indentation of the line that they go into.
    pub keeps_indentation: bool,
    /// Documentation can be fetched for one item.
    pub resolves: bool,
}

impl Able {
    /// Reads it out of the client's first message.
    pub fn of(params: &lsp::InitializeParams) -> Able {
        let completion = params.capabilities.text_document.as_ref().and_then(|text| text.completion.as_ref());
        let Some(item) = completion.and_then(|completion| completion.completion_item.as_ref()) else {
            return Able { resolves: true, ..Able::default() };
        };
        let formats = item.documentation_format.as_deref().unwrap_or_default();
        let modes = item.insert_text_mode_support.as_ref().map(|support| &support.value_set[..]).unwrap_or_default();
        let lazily = item.resolve_support.as_ref().map(|support| &support.properties);
        Able {
            snippets: item.snippet_support == Some(true),
            inserts_or_replaces: item.insert_replace_support == Some(true),
            label_details: item.label_details_support == Some(true),
            markdown: formats.contains(&lsp::MarkupKind::Markdown),
            keeps_indentation: modes.contains(&lsp::InsertTextMode::AS_IS),
            // A client that says nothing of it fetches documentation, as all did before it could be said.
            resolves: lazily.is_none_or(|properties| properties.iter().any(|name| name == "documentation")),
        }
    }
}

/// What the server says of itself.
pub fn options() -> lsp::CompletionOptions {
    lsp::CompletionOptions {
        resolve_provider: Some(true),
        trigger_characters: Some(TRIGGERS.map(String::from).to_vec()),
        completion_item: Some(lsp::CompletionOptionsCompletionItem { label_details_support: Some(true) }),
        ..lsp::CompletionOptions::default()
    }
}

/// The request.
#[derive(Debug)]
pub struct Completion {
    /// The document.
    pub uri: String,
    /// The cursor.
    pub position: Position,
    /// The character that was typed, where the client asks because of it.
    pub trigger: Option<String>,
}

impl Feature for Completion {
    type Answer = Option<lsp::CompletionResponse>;
    const METHOD: &'static str = "textDocument/completion";
    fn uri(&self) -> &str {
        &self.uri
    }
    fn compute<V: View>(&self, view: &V, context: &Context) -> Self::Answer {
        let found = view.completions(&context.path, context.text.offset(self.position));
        let shown = match self.trigger.as_deref() {
            Some(" " | ".") => found.wanted,
            Some("\"" | "/") => found.path.is_some(),
            _ => true,
        };
        if !shown {
            return None;
        }
        let writer = Writer { able: context.abilities.completion, context, found: &found };
        let items = match &found.path {
            Some(path) => writer.files(view.neighbours(&context.path, &context.abilities.folders, path)),
            None => found.items.iter().enumerate().map(|(i, item)| writer.item(view, i, item)).collect(),
        };
        if items.is_empty() {
            return None;
        }
        Some(lsp::CompletionResponse::List(lsp::CompletionList { is_incomplete: found.incomplete, items }))
    }
}

/// Writes items for one client.
struct Writer<'a> {
    able: Able,
    context: &'a Context,
    found: &'a Completions,
}

impl Writer<'_> {
    fn item<V: View>(&self, view: &V, order: usize, item: &Item) -> lsp::CompletionItem {
        let able = self.able;
        let filled = able.snippets && item.insert.iter().any(|piece| !matches!(piece, Piece::Text(_)));
        let text = if filled { snippet(&item.insert) } else { item.plain() };
        let lines = text.contains('\n');
        let edits = item.unindent.iter().map(|blanks| self.edit(&Edit { range: blanks.clone(), text: String::new() }));
        let detail = (!item.detail.is_empty()).then(|| item.detail.clone());
        let (details, detail) = if able.label_details {
            (detail.map(|detail| lsp::CompletionItemLabelDetails { detail: None, description: Some(detail) }), None)
        } else {
            (None, detail)
        };
        let eager = matches!(item.about, About::Said(_)) || !able.resolves;
        let told = eager.then(|| view.told(&self.context.path, &item.about)).flatten();
        lsp::CompletionItem {
            label: item.label.clone(),
            label_details: details,
            kind: Some(kind(item.kind)),
            detail,
            documentation: told.map(|told| documentation(told, able.markdown)),
            sort_text: Some(format!("{order:03}")),
            filter_text: item.filter.clone(),
            insert_text_format: filled.then_some(lsp::InsertTextFormat::SNIPPET),
            insert_text_mode: (lines && able.keeps_indentation).then_some(lsp::InsertTextMode::AS_IS),
            text_edit: Some(self.replacement(text)),
            additional_text_edits: Some(edits.collect()).filter(|edits: &Vec<_>| !edits.is_empty()),
            data: (!eager).then(|| named(&self.context.uri, &item.about)).flatten(),
            ..lsp::CompletionItem::default()
        }
    }

    /// The word goes; for a client that can choose, what of it stands behind the cursor may stay.
    fn replacement(&self, new_text: String) -> lsp::CompletionTextEdit {
        let (word, at) = (&self.found.word, self.found.at);
        let range = |range| translate::range(self.context.text.span(&range));
        let replace = range(word.clone());
        if self.able.inserts_or_replaces {
            let insert = range(word.start..at);
            lsp::CompletionTextEdit::InsertAndReplace(lsp::InsertReplaceEdit { new_text, insert, replace })
        } else {
            lsp::CompletionTextEdit::Edit(lsp::TextEdit { range: replace, new_text })
        }
    }

    fn edit(&self, edit: &Edit) -> lsp::TextEdit {
        lsp::TextEdit { range: translate::range(self.context.text.span(&edit.range)), new_text: edit.text.clone() }
    }

    fn files(&self, files: Vec<Neighbour>) -> Vec<lsp::CompletionItem> {
        let one = |(order, file): (usize, Neighbour)| lsp::CompletionItem {
            kind: Some(if file.folder { lsp::CompletionItemKind::FOLDER } else { lsp::CompletionItemKind::FILE }),
            sort_text: Some(format!("{order:03}")),
            text_edit: Some(self.replacement(file.name.clone())),
            label: file.name,
            ..lsp::CompletionItem::default()
        };
        files.into_iter().enumerate().map(one).collect()
    }
}

fn kind(kind: Kind) -> lsp::CompletionItemKind {
    use lsp::CompletionItemKind as K;
    match kind {
        Kind::Heading | Kind::Word | Kind::Clause => K::KEYWORD,
        Kind::Stage => K::MODULE,
        Kind::Node => K::VARIABLE,
        Kind::Rail | Kind::Let => K::CONSTANT,
        Kind::Part => K::FIELD,
        Kind::Type => K::STRUCT,
        Kind::Value => K::VALUE,
        Kind::Unit => K::UNIT,
        Kind::Quantity => K::METHOD,
        Kind::Setting | Kind::Attribute => K::ENUM_MEMBER,
        Kind::Function => K::FUNCTION,
        Kind::Rule => K::EVENT,
        Kind::Datum => K::PROPERTY,
        Kind::Skeleton => K::SNIPPET,
    }
}

/// Documentation as the client takes it.
pub fn documentation(told: Told, markdown: bool) -> lsp::Documentation {
    let (kind, value) =
        if markdown { (lsp::MarkupKind::Markdown, told.markdown) } else { (lsp::MarkupKind::PlainText, told.plain) };
    lsp::Documentation::MarkupContent(lsp::MarkupContent { kind, value })
}

/// Where an item's documentation is found, to be sent back by the client.
fn named(uri: &str, about: &About) -> Option<Value> {
    match about {
        About::Page(word) => Some(json!({ "uri": uri, "page": word })),
        About::Sheet(name) => Some(json!({ "uri": uri, "sheet": name })),
        About::Nothing | About::Said(_) => None,
    }
}

/// The request for an item's documentation.
#[derive(Debug)]
pub struct Explain {
    /// The document that it was offered in.
    uri: String,
    about: About,
}

impl Explain {
    /// Of what the client sent back; `None` where there is nothing to be fetched.
    pub fn of(data: Option<&Value>) -> Option<Explain> {
        let data = data?;
        let word = |key: &str| data.get(key).and_then(Value::as_str).map(str::to_string);
        let about = word("page").map(About::Page).or_else(|| word("sheet").map(About::Sheet))?;
        Some(Explain { uri: word("uri")?, about })
    }
}

impl Feature for Explain {
    type Answer = Option<lsp::Documentation>;
    const METHOD: &'static str = "completionItem/resolve";
    fn uri(&self) -> &str {
        &self.uri
    }
    fn compute<V: View>(&self, view: &V, context: &Context) -> Self::Answer {
        let told = view.told(&context.path, &self.about)?;
        Some(documentation(told, context.abilities.completion.markdown))
    }
}

/// How many units of sixteen bits a piece of a label takes: the protocol counts labels so, whatever was agreed for documents.
pub fn units(text: &str) -> u32 {
    text.encode_utf16().count() as u32
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn marks_of_the_snippet_are_no_text() {
        let pieces = [
            Piece::Text("a $1 } \\ ".into()),
            Piece::Stop(1, "x}".into()),
            Piece::Stop(2, String::new()),
            Piece::Choice(3, vec!["low".into(), "a,b|c".into()]),
        ];
        assert_eq!(snippet(&pieces), "a \\$1 \\} \\\\ ${1:x\\}}$2${3|low,a\\,b\\|c|}");
    }

    #[test]
    fn what_cannot_be_fetched_is_not_asked() {
        assert!(Explain::of(None).is_none());
        assert!(Explain::of(Some(&json!({ "uri": "a" }))).is_none());
        assert!(Explain::of(Some(&json!({ "page": "gain" }))).is_none());
        assert!(Explain::of(Some(&json!({ "uri": "a", "page": "gain" }))).is_some());
    }
}
