//! What the server says that it can do, in its answer to the client's first message.

use tower_lsp::ls_types as lsp;

use super::abilities::Abilities;
use super::format::ENDS_A_LINE;
use super::{actions, pages, tokens};

/// The server's abilities, as far as the client can make use of them.
pub fn offered(abilities: &Abilities) -> lsp::ServerCapabilities {
    let sync = lsp::TextDocumentSyncOptions {
        open_close: Some(true),
        change: Some(lsp::TextDocumentSyncKind::INCREMENTAL),
        save: Some(lsp::TextDocumentSyncSaveOptions::Supported(true)),
        ..lsp::TextDocumentSyncOptions::default()
    };
    let fixes = lsp::CodeActionOptions {
        code_action_kinds: Some(actions::kinds()),
        resolve_provider: Some(abilities.resolves_edits),
        ..lsp::CodeActionOptions::default()
    };
    lsp::ServerCapabilities {
        position_encoding: Some(lsp::PositionEncodingKind::new(abilities.encoding.name())),
        text_document_sync: Some(lsp::TextDocumentSyncCapability::Options(sync)),
        inlay_hint_provider: Some(if abilities.resolves_hints.tooltip || abilities.resolves_hints.places {
            lsp::OneOf::Right(lsp::InlayHintServerCapabilities::Options(lsp::InlayHintOptions {
                resolve_provider: Some(true),
                ..lsp::InlayHintOptions::default()
            }))
        } else {
            lsp::OneOf::Left(true)
        }),
        hover_provider: Some(lsp::HoverProviderCapability::Simple(true)),
        completion_provider: Some(super::completion::options()),
        signature_help_provider: Some(super::signature::options()),
        definition_provider: Some(lsp::OneOf::Left(true)),
        declaration_provider: Some(lsp::DeclarationCapability::Simple(true)),
        type_definition_provider: Some(lsp::TypeDefinitionProviderCapability::Simple(true)),
        references_provider: Some(lsp::OneOf::Left(true)),
        document_highlight_provider: Some(lsp::OneOf::Left(true)),
        rename_provider: Some(if abilities.prepares_renames {
            let prepare_provider = Some(true);
            let work_done_progress_options = lsp::WorkDoneProgressOptions::default();
            lsp::OneOf::Right(lsp::RenameOptions { prepare_provider, work_done_progress_options })
        } else {
            lsp::OneOf::Left(true)
        }),
        linked_editing_range_provider: Some(lsp::LinkedEditingRangeServerCapabilities::Simple(true)),
        folding_range_provider: Some(lsp::FoldingRangeProviderCapability::Simple(true)),
        selection_range_provider: Some(lsp::SelectionRangeProviderCapability::Simple(true)),
        document_link_provider: Some(lsp::DocumentLinkOptions {
            resolve_provider: Some(false),
            work_done_progress_options: lsp::WorkDoneProgressOptions::default(),
        }),
        workspace_symbol_provider: Some(lsp::OneOf::Left(true)),
        document_symbol_provider: Some(lsp::OneOf::Left(true)),
        code_action_provider: Some(lsp::CodeActionProviderCapability::Options(fixes)),
        document_formatting_provider: Some(lsp::OneOf::Left(true)),
        document_range_formatting_provider: Some(lsp::OneOf::Left(true)),
        document_on_type_formatting_provider: Some(lsp::DocumentOnTypeFormattingOptions {
            first_trigger_character: ENDS_A_LINE.to_string(),
            more_trigger_character: None,
        }),
        code_lens_provider: Some(lsp::CodeLensOptions { resolve_provider: Some(true) }),
        execute_command_provider: Some(lsp::ExecuteCommandOptions {
            commands: pages::COMMANDS.map(String::from).to_vec(),
            ..lsp::ExecuteCommandOptions::default()
        }),
        semantic_tokens_provider: Some(tokens::options()),
        diagnostic_provider: abilities.pulls_diagnostics.then(|| {
            lsp::DiagnosticServerCapabilities::Options(lsp::DiagnosticOptions {
                inter_file_dependencies: true,
                workspace_diagnostics: true,
                ..lsp::DiagnosticOptions::default()
            })
        }),
        workspace: Some(lsp::WorkspaceServerCapabilities {
            workspace_folders: Some(lsp::WorkspaceFoldersServerCapabilities {
                supported: Some(true),
                change_notifications: Some(lsp::OneOf::Left(true)),
            }),
            file_operations: abilities.asks_before_moving.then(|| lsp::WorkspaceFileOperationsServerCapabilities {
                will_rename: Some(designs_and_folders()),
                ..lsp::WorkspaceFileOperationsServerCapabilities::default()
            }),
            ..lsp::WorkspaceServerCapabilities::default()
        }),
        ..lsp::ServerCapabilities::default()
    }
}

/// What may be included: a design, or a folder that may hold some.
fn designs_and_folders() -> lsp::FileOperationRegistrationOptions {
    let filter = |glob: &str, matches| lsp::FileOperationFilter {
        scheme: Some("file".to_string()),
        pattern: lsp::FileOperationPattern { glob: glob.to_string(), matches: Some(matches), options: None },
    };
    lsp::FileOperationRegistrationOptions {
        filters: vec![
            filter("**/*.stage", lsp::FileOperationPatternKind::File),
            filter("**", lsp::FileOperationPatternKind::Folder),
        ],
    }
}
