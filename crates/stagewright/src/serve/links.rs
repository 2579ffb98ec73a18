//! What leads out of a document: the files that it includes, and web addresses.

use tower_lsp::ls_types as lsp;
use workbench::editing::links::LinkTo;

use super::bench::View;
use super::elsewhere::addressed;
use super::translate;
use super::work::{Context, Feature};

/// The request.
#[derive(Debug)]
pub struct Links {
    /// The document.
    pub uri: String,
}

impl Feature for Links {
    type Answer = Option<Vec<lsp::DocumentLink>>;
    const METHOD: &'static str = "textDocument/documentLink";
    fn uri(&self) -> &str {
        &self.uri
    }
    fn compute<V: View>(&self, view: &V, context: &Context) -> Self::Answer {
        let one = |link: workbench::editing::links::Link| {
            let (target, tooltip) = match &link.to {
                LinkTo::File(path) => (addressed(path, &context.open)?.uri, "the included file"),
                LinkTo::Web(address) => (translate::uri(address)?, "the source on the web"),
            };
            Some(lsp::DocumentLink {
                range: translate::range(context.text.span(&link.range)),
                target: Some(target),
                tooltip: context.abilities.link_tooltips.then(|| tooltip.to_string()),
                data: None,
            })
        };
        Some(view.links(&context.path).into_iter().filter_map(one).collect())
    }
}
