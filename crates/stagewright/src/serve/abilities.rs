//! What the client said that it can do, and what it gets instead where it cannot; and what it wishes where there is a choice.

use std::path::PathBuf;
use std::time::Duration;

use serde::Deserialize;
use tower_lsp::ls_types::{InitializeParams, MarkupKind, Uri};

use super::document::UNDER_WAY;
use super::position::Encoding;
use super::uri::path_of;

/// A pause without end would be one that no clock can tell.
const LONGEST_PAUSE: Duration = Duration::from_secs(24 * 3600);

/// The client's abilities, as far as they matter here.
#[derive(Clone, Debug)]
pub struct Abilities {
    /// What a column counts.
    pub encoding: Encoding,
    /// An outline may have levels; else it is a flat list.
    pub nested_symbols: bool,
    /// A hover may be Markdown; else it is plain text.
    pub markdown: bool,
    /// The client can be asked to fetch its hints again.
    pub refresh_hints: bool,
    /// The client can be asked to tell when files on disk change.
    pub watches_files: bool,
    /// The folders that are open in the client, as paths.
    pub folders: Vec<PathBuf>,
    /// An edit may name the version of the document that it is for.
    pub versioned_edits: bool,
    /// A code action may be an edit; else there are none, since this server has no commands.
    pub action_literals: bool,
    /// A code action may be marked as the preferred one.
    pub preferred_actions: bool,
    /// A code action may be shown that cannot be taken, with the reason.
    pub disabled_actions: bool,
    /// What it can make of completions.
    pub completion: super::completion::Able,
    /// What it can make of signatures.
    pub signature: super::signature::Able,
    /// How long the word that was last touched is taken to be still under way.
    pub pause: Duration,
    /// What is missing at the end of the entry that is being typed is not said at all; else it is a faint mark.
    pub hides_unfinished: bool,
}

/// What the client's `initializationOptions` may hold. What cannot be read is passed over, and so is what else stands there.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
struct Wishes {
    /// Milliseconds.
    pause: Option<u64>,
    /// `"faint"` or `"hidden"`.
    unfinished: Option<String>,
}

impl Default for Abilities {
    fn default() -> Self {
        Self {
            encoding: Encoding::default(),
            nested_symbols: false,
            markdown: false,
            refresh_hints: false,
            watches_files: false,
            folders: Vec::new(),
            versioned_edits: false,
            action_literals: false,
            preferred_actions: false,
            disabled_actions: false,
            completion: Default::default(),
            signature: Default::default(),
            pause: UNDER_WAY,
            hides_unfinished: false,
        }
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
        let wishes = params.initialization_options.as_ref().and_then(|wishes| Wishes::deserialize(wishes).ok());
        let wishes = wishes.unwrap_or_default();
        Self {
            pause: wishes.pause.map_or(UNDER_WAY, Duration::from_millis).min(LONGEST_PAUSE),
            hides_unfinished: wishes.unfinished.as_deref() == Some("hidden"),
            completion: super::completion::Able::of(params),
            signature: super::signature::Able::of(params),
            encoding: Encoding::choose(offered.iter().map(|encoding| encoding.as_str())),
            nested_symbols: text.and_then(|text| text.document_symbol.as_ref()?.hierarchical_document_symbol_support)
                == Some(true),
            markdown: hover.contains(&MarkupKind::Markdown),
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
        }
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
