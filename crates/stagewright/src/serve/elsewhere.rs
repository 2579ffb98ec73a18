//! Places and edits in other documents than the one that was asked about: which address a file goes by, and which version an edit is for.

use std::collections::HashMap;
use std::path::Path;

use tower_lsp::ls_types as lsp;
use workbench::{Edit, Where};

use super::definition::LIBRARY;
use super::position::Text;
use super::translate;
use super::work::{Context, Opened};

/// A document that is open, or that the workbench knows by its path alone.
pub struct Addressed {
    /// As the client calls it, if it does.
    pub uri: lsp::Uri,
    /// The client's count, if it has one.
    pub version: Option<i32>,
}

impl Addressed {
    /// A file by its path and the open document that it is, if it is one: the client's own words go before others that mean the same file.
    pub fn of(path: &Path, open: Option<&Opened>) -> Option<Addressed> {
        match open {
            Some(opened) => Some(Addressed { uri: translate::uri(&opened.uri)?, version: Some(opened.version) }),
            None => Some(Addressed { uri: lsp::Uri::from_file_path(path)?, version: None }),
        }
    }
}

/// The address of a file by its name in the workbench.
pub fn addressed(path: &str, open: &[Opened]) -> Option<Addressed> {
    Addressed::of(Path::new(path), open.iter().find(|opened| *opened.path == *path))
}

/// A place for the client.
pub fn location(place: Where, bytes: &std::ops::Range<usize>, context: &Context) -> Option<lsp::Location> {
    let encoding = context.text.encoding();
    let (uri, span) = match place {
        Where::Here => (translate::uri(&context.uri)?, context.text.span(bytes)),
        Where::File(path, text) => (addressed(&path, &context.open)?.uri, Text::new(text, encoding).span(bytes)),
        Where::Library(file, text) => {
            (translate::uri(&format!("{LIBRARY}{file}"))?, Text::new(text, encoding).span(bytes))
        }
    };
    Some(lsp::Location { uri, range: translate::range(span) })
}

/// What is replaced in one document.
pub struct Changed {
    /// The document.
    pub document: Addressed,
    /// Its text before.
    pub text: Text,
    /// Replacements that do not touch, in bytes of that text.
    pub edits: Vec<Edit>,
    /// What a client shows above these edits, if it shows anything.
    pub label: String,
}

/// Edits of documents as far as the client can: each for the version that it was made for, under a label; else plain.
pub fn workspace_edit(changes: Vec<Changed>, context: &super::abilities::Abilities) -> lsp::WorkspaceEdit {
    let mut found = lsp::WorkspaceEdit::default();
    let edits = |changed: &Changed| -> Vec<lsp::TextEdit> {
        let edit = |edit: &Edit| lsp::TextEdit {
            range: translate::range(changed.text.span(&edit.range)),
            new_text: edit.text.clone(),
        };
        changed.edits.iter().map(edit).collect()
    };
    if !context.versioned_edits {
        let plain = changes.iter().map(|changed| (changed.document.uri.clone(), edits(changed)));
        found.changes = Some(plain.collect());
        return found;
    }
    let mut labels: HashMap<String, lsp::ChangeAnnotation> = HashMap::new();
    let mut documents = Vec::new();
    for changed in changes {
        let text = edits(&changed).into_iter();
        let edits = if context.annotated_edits {
            let plain = lsp::ChangeAnnotation {
                label: changed.label.clone(),
                needs_confirmation: Some(false),
                description: None,
            };
            labels.insert(changed.label.clone(), plain);
            let annotated = |text_edit| {
                lsp::OneOf::Right(lsp::AnnotatedTextEdit { text_edit, annotation_id: changed.label.clone() })
            };
            text.map(annotated).collect()
        } else {
            text.map(lsp::OneOf::Left).collect()
        };
        let Addressed { uri, version } = changed.document;
        let text_document = lsp::OptionalVersionedTextDocumentIdentifier { uri, version };
        documents.push(lsp::TextDocumentEdit { text_document, edits });
    }
    found.document_changes = Some(lsp::DocumentChanges::Edits(documents));
    found.change_annotations = (!labels.is_empty()).then_some(labels);
    found
}
