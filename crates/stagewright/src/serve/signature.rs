//! Signature help: what an entry or a heading holds, and the place that the cursor is at.

use tower_lsp::ls_types as lsp;
use workbench::Signature as Shape;

use super::bench::View;
use super::completion::{documentation, units};
use super::position::Position;
use super::work::{Context, Feature};

/// Behind these a client asks by itself; a blank is answered only where it begins another place.
const TRIGGERS: [&str; 4] = [":", ",", ">", " "];

/// What the client can make of signatures.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Able {
    /// Documentation may be Markdown.
    pub markdown: bool,
    /// A place may be told by where it stands in the label; else by its text.
    pub offsets: bool,
    /// The place at the cursor may be told with its signature.
    pub active: bool,
}

impl Able {
    /// Reads it out of the client's first message.
    pub fn of(params: &lsp::InitializeParams) -> Able {
        let help = params.capabilities.text_document.as_ref().and_then(|text| text.signature_help.as_ref());
        let Some(of) = help.and_then(|help| help.signature_information.as_ref()) else { return Able::default() };
        let formats = of.documentation_format.as_deref().unwrap_or_default();
        let places = of.parameter_information.as_ref();
        Able {
            markdown: formats.contains(&lsp::MarkupKind::Markdown),
            offsets: places.and_then(|places| places.label_offset_support) == Some(true),
            active: of.active_parameter_support == Some(true),
        }
    }
}

/// What the server says of itself.
pub fn options() -> lsp::SignatureHelpOptions {
    lsp::SignatureHelpOptions {
        trigger_characters: Some(TRIGGERS.map(String::from).to_vec()),
        // While it is shown every word may lead to another place.
        retrigger_characters: Some([" ", ",", ">", "-", "="].map(String::from).to_vec()),
        ..lsp::SignatureHelpOptions::default()
    }
}

/// The request.
#[derive(Debug)]
pub struct Signature {
    /// The document.
    pub uri: String,
    /// The cursor.
    pub position: Position,
    /// A blank was typed, and nothing is shown yet.
    pub unasked: bool,
}

impl Signature {
    /// Of what the client sent.
    pub fn of(params: &lsp::SignatureHelpParams) -> Signature {
        let at = &params.text_document_position_params;
        let blank = |context: &lsp::SignatureHelpContext| {
            context.trigger_character.as_deref() == Some(" ") && !context.is_retrigger
        };
        Signature {
            uri: at.text_document.uri.as_str().to_string(),
            position: super::translate::position_of(at.position),
            unasked: params.context.as_ref().is_some_and(blank),
        }
    }
}

impl Feature for Signature {
    type Answer = Option<lsp::SignatureHelp>;
    const METHOD: &'static str = "textDocument/signatureHelp";
    fn uri(&self) -> &str {
        &self.uri
    }
    fn compute<V: View>(&self, view: &V, context: &Context) -> Self::Answer {
        let shape = view.signature(&context.path, context.text.offset(self.position))?;
        if self.unasked && !shape.fresh {
            return None;
        }
        let able = context.abilities.signature;
        let told = view.told(&context.path, &shape.about);
        let active = shape.active.map(|place| place as u32);
        let signature = lsp::SignatureInformation {
            parameters: Some(places(&shape, able)),
            documentation: told.map(|told| documentation(told, able.markdown)),
            active_parameter: active.filter(|_| able.active),
            label: shape.label,
        };
        Some(lsp::SignatureHelp { signatures: vec![signature], active_signature: Some(0), active_parameter: active })
    }
}

fn places(shape: &Shape, able: Able) -> Vec<lsp::ParameterInformation> {
    let label = |range: &std::ops::Range<usize>| {
        let text = &shape.label[range.clone()];
        if able.offsets {
            let start = units(&shape.label[..range.start]);
            lsp::ParameterLabel::LabelOffsets([start, start + units(text)])
        } else {
            lsp::ParameterLabel::Simple(text.to_string())
        }
    };
    let one = |place: &workbench::SignaturePlace| lsp::ParameterInformation {
        label: label(&place.range),
        documentation: (!place.told.is_empty()).then(|| lsp::Documentation::String(place.told.clone())),
    };
    shape.places.iter().map(one).collect()
}
