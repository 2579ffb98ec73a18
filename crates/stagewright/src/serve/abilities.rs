//! What the client said that it can do, and what it gets instead where it cannot.

use std::path::PathBuf;

use tower_lsp::ls_types::{InitializeParams, MarkupKind, TextDocumentClientCapabilities, Uri};

use super::position::Encoding;
use super::uri::path_of;

/// The client's abilities, as far as they matter here.
#[derive(Clone, Debug, Default)]
pub struct Abilities {
    /// What a column counts.
    pub encoding: Encoding,
    /// An outline may have levels; else it is a flat list.
    pub nested_symbols: bool,
    /// A hover may be Markdown; else it is plain text.
    pub markdown: bool,
    /// What of a hint may be left until somebody looks at it: the tooltip, the places that its label leads to.
    pub resolves_hints: Resolves,
    /// A diagnostic may name other places.
    pub related_places: bool,
    /// A diagnostic may name the page that explains it.
    pub explains: bool,
    /// The client can be asked to fetch its hints again.
    pub refresh_hints: bool,
    /// The client can be asked to tell when files on disk change.
    pub watches_files: bool,
    /// The folders that are open in the client, as paths.
    pub folders: Vec<PathBuf>,
    /// An edit may name the version of the document that it is for.
    pub versioned_edits: bool,
    /// A code action may be an edit; else there are none, since no command of this server edits.
    pub action_literals: bool,
    /// A code action may be marked as the preferred one.
    pub preferred_actions: bool,
    /// A code action may be shown that cannot be taken, with the reason.
    pub disabled_actions: bool,
    /// The edits of a code action may be asked for when it is taken.
    pub resolves_edits: bool,
    /// An edit may leave a word selected that is to be replaced (LSP 3.18).
    pub snippet_edits: bool,
    /// The client can be asked to fetch its lenses again.
    pub refresh_lenses: bool,
    /// The client opens a document that it is told to.
    pub shows_documents: bool,
    /// The client asks the server for the text of documents that no disk holds (LSP 3.18).
    pub asks_for_texts: bool,
    /// The client shows the pages that a command answers with by itself: it says `pages` among its first options.
    pub shows_pages: bool,
    /// What it can make of completions.
    pub completion: super::completion::Able,
    /// What it can make of signatures.
    pub signature: super::signature::Able,
    /// The client asks for diagnostics, and can be told to ask again; else they are sent to it.
    pub pulls_diagnostics: bool,
    /// The client shows progress.
    pub progress: bool,
    /// An edit may stand under a label.
    pub annotated_edits: bool,
    /// The client asks whether a name may be renamed before it is typed.
    pub prepares_renames: bool,
    /// It folds whole lines alone.
    pub folds_lines_only: bool,
    /// It wants no more folds than these.
    pub fold_limit: Option<usize>,
    /// A link may say where it leads.
    pub link_tooltips: bool,
    /// It asks what is to follow before it renames files.
    pub asks_before_moving: bool,
    /// The client can be asked for its configuration.
    pub configuration: bool,
    /// The client tells of changes of its configuration once it has been asked to.
    pub tells_configuration: bool,
}

/// What of a hint may be left until somebody looks at it.
#[derive(Clone, Copy, Debug, Default)]
pub struct Resolves {
    /// The tooltip.
    pub tooltip: bool,
    /// The places that parts of the label lead to.
    pub places: bool,
}

impl Resolves {
    fn of(text: Option<&TextDocumentClientCapabilities>) -> Self {
        let support = text.and_then(|text| text.inlay_hint.as_ref()?.resolve_support.as_ref());
        let has = |what: &str| support.is_some_and(|support| support.properties.iter().any(|p| p == what));
        Self { tooltip: has("tooltip"), places: has("label.location") }
    }
}

impl Abilities {
    /// Reads them out of the client's first message.
    pub fn of(params: &InitializeParams) -> Self {
        let general = params.capabilities.general.as_ref();
        let text = params.capabilities.text_document.as_ref();
        let workspace = params.capabilities.workspace.as_ref();
        let offered = general.and_then(|general| general.position_encodings.as_deref()).unwrap_or_default();
        let hover = text.and_then(|text| text.hover.as_ref()?.content_format.clone()).unwrap_or_default();
        let action = text.and_then(|text| text.code_action.as_ref());
        Self {
            completion: super::completion::Able::of(params),
            signature: super::signature::Able::of(params),
            encoding: Encoding::choose(offered.iter().map(|encoding| encoding.as_str())),
            nested_symbols: text.and_then(|text| text.document_symbol.as_ref()?.hierarchical_document_symbol_support)
                == Some(true),
            resolves_hints: Resolves::of(text),
            related_places: text.and_then(|text| text.publish_diagnostics.as_ref()?.related_information) == Some(true),
            explains: text.and_then(|text| text.publish_diagnostics.as_ref()?.code_description_support) == Some(true),
            // The order is the client's preference: one that shows Markdown as it is written names plain text first.
            markdown: hover.first() == Some(&MarkupKind::Markdown),
            refresh_hints: workspace.and_then(|workspace| workspace.inlay_hint.as_ref()?.refresh_support) == Some(true),
            watches_files: workspace
                .and_then(|workspace| workspace.did_change_watched_files.as_ref()?.dynamic_registration)
                == Some(true),
            folders: folders(params),
            versioned_edits: workspace.and_then(|workspace| workspace.workspace_edit.as_ref()?.document_changes)
                == Some(true),
            action_literals: action.is_some_and(|action| action.code_action_literal_support.is_some()),
            preferred_actions: action.and_then(|action| action.is_preferred_support) == Some(true),
            disabled_actions: action.and_then(|action| action.disabled_support) == Some(true),
            resolves_edits: action.is_some_and(|action| {
                let resolved = action.resolve_support.as_ref();
                action.data_support == Some(true)
                    && resolved.is_some_and(|resolved| resolved.properties.iter().any(|name| name == "edit"))
            }),
            snippet_edits: false,
            refresh_lenses: workspace.and_then(|workspace| workspace.code_lens.as_ref()?.refresh_support) == Some(true),
            shows_documents: params
                .capabilities
                .window
                .as_ref()
                .and_then(|window| window.show_document.as_ref())
                .is_some_and(|show| show.support),
            asks_for_texts: false,
            shows_pages: params.initialization_options.as_ref().and_then(|options| options.get("pages")?.as_bool())
                == Some(true),
            pulls_diagnostics: text.is_some_and(|text| text.diagnostic.is_some())
                && workspace.and_then(|workspace| workspace.diagnostics.as_ref()?.refresh_support) == Some(true),
            progress: params.capabilities.window.as_ref().and_then(|window| window.work_done_progress) == Some(true),
            annotated_edits: workspace
                .and_then(|workspace| workspace.workspace_edit.as_ref()?.change_annotation_support.as_ref())
                .is_some(),
            prepares_renames: text.and_then(|text| text.rename.as_ref()?.prepare_support) == Some(true),
            folds_lines_only: text.and_then(|text| text.folding_range.as_ref()?.line_folding_only) == Some(true),
            fold_limit: text.and_then(|text| text.folding_range.as_ref()?.range_limit).map(|limit| limit as usize),
            link_tooltips: text.and_then(|text| text.document_link.as_ref()?.tooltip_support) == Some(true),
            asks_before_moving: workspace.and_then(|workspace| workspace.file_operations.as_ref()?.will_rename)
                == Some(true),
            configuration: workspace.and_then(|workspace| workspace.configuration) == Some(true),
            tells_configuration: workspace
                .and_then(|workspace| workspace.did_change_configuration.as_ref()?.dynamic_registration)
                == Some(true),
        }
    }
}

impl Abilities {
    /// Reads what the framework's types do not know yet out of the capabilities as the client wrote them.
    pub fn learn(&mut self, capabilities: &serde_json::Value) {
        self.snippet_edits = capabilities.pointer("/workspace/workspaceEdit/snippetEditSupport") == Some(&true.into());
        self.asks_for_texts =
            capabilities.pointer("/workspace/textDocumentContent").is_some_and(|able| able.is_object());
    }
}

/// The folders that a client begins with; one that knows no folders names its root.
#[allow(deprecated)]
fn folders(params: &InitializeParams) -> Vec<PathBuf> {
    let path = |uri: &Uri| PathBuf::from(path_of(uri.as_str()));
    match &params.workspace_folders {
        Some(folders) => folders.iter().map(|folder| path(&folder.uri)).collect(),
        None => params.root_uri.iter().map(path).collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn of(capabilities: serde_json::Value) -> Abilities {
        let params = serde_json::from_value(json!({ "capabilities": capabilities })).unwrap();
        Abilities::of(&params)
    }

    #[test]
    fn a_client_that_says_nothing_gets_the_plainest() {
        let plain = of(json!({}));
        assert_eq!(plain.encoding, Encoding::Utf16);
        assert!(!plain.markdown && !plain.nested_symbols && !plain.refresh_hints && !plain.action_literals);
    }

    #[test]
    fn a_hover_has_the_format_that_the_client_names_first() {
        let of = |formats: serde_json::Value| of(json!({ "textDocument": { "hover": { "contentFormat": formats } } }));
        assert!(of(json!(["markdown", "plaintext"])).markdown);
        assert!(!of(json!(["plaintext", "markdown"])).markdown);
        assert!(!of(json!([])).markdown);
    }

    #[test]
    fn what_is_said_is_heard() {
        let able = of(json!({
            "general": { "positionEncodings": ["utf-8", "utf-16"] },
            "textDocument": {
                "hover": { "contentFormat": ["markdown", "plaintext"] },
                "documentSymbol": { "hierarchicalDocumentSymbolSupport": true },
            },
            "workspace": { "inlayHint": { "refreshSupport": true } },
        }));
        assert_eq!(able.encoding, Encoding::Utf8);
        assert!(able.markdown && able.nested_symbols && able.refresh_hints);
    }
}
