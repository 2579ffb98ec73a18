//! The outline.

use tower_lsp::ls_types as lsp;
use workbench::{Symbol, SymbolKind};

use super::bench::View;
use super::translate;
use super::work::{Context, Feature};

/// The request.
#[derive(Debug)]
pub struct Symbols {
    /// The document.
    pub uri: String,
}

impl Feature for Symbols {
    type Answer = Option<lsp::DocumentSymbolResponse>;
    const METHOD: &'static str = "textDocument/documentSymbol";
    fn uri(&self) -> &str {
        &self.uri
    }
    fn compute<V: View>(&self, view: &V, context: &Context) -> Self::Answer {
        let symbols = view.symbols(&context.path);
        Some(if context.abilities.nested_symbols {
            lsp::DocumentSymbolResponse::Nested(symbols.into_iter().map(|symbol| nested(symbol, context)).collect())
        } else {
            let mut flat = Vec::new();
            flatten(symbols, None, context, &mut flat);
            lsp::DocumentSymbolResponse::Flat(flat)
        })
    }
}

fn kind(kind: SymbolKind) -> lsp::SymbolKind {
    match kind {
        SymbolKind::Design => lsp::SymbolKind::FILE,
        SymbolKind::Stage => lsp::SymbolKind::MODULE,
        SymbolKind::Part => lsp::SymbolKind::FIELD,
        SymbolKind::Setting => lsp::SymbolKind::ENUM_MEMBER,
        SymbolKind::Statement => lsp::SymbolKind::BOOLEAN,
        SymbolKind::Datasheet => lsp::SymbolKind::STRUCT,
        SymbolKind::Value => lsp::SymbolKind::CONSTANT,
    }
}

// The field that was deprecated in favour of tags has to be written all the same.
#[allow(deprecated)]
fn nested(symbol: Symbol, context: &Context) -> lsp::DocumentSymbol {
    // A client refuses an outline in which a name lies outside of what it names.
    let start = symbol.range.start.min(symbol.selection.start);
    let end = symbol.range.end.max(symbol.selection.end);
    let children: Vec<_> = symbol.children.into_iter().map(|child| nested(child, context)).collect();
    lsp::DocumentSymbol {
        name: symbol.name,
        detail: (!symbol.detail.is_empty()).then_some(symbol.detail),
        kind: kind(symbol.kind),
        tags: None,
        deprecated: None,
        range: translate::range(context.text.span(&(start..end))),
        selection_range: translate::range(context.text.span(&symbol.selection)),
        children: (!children.is_empty()).then_some(children),
    }
}

#[allow(deprecated)]
fn flatten(symbols: Vec<Symbol>, container: Option<&str>, context: &Context, out: &mut Vec<lsp::SymbolInformation>) {
    let Some(uri) = translate::uri(&context.uri) else {
        return;
    };
    for symbol in symbols {
        out.push(lsp::SymbolInformation {
            name: symbol.name.clone(),
            kind: kind(symbol.kind),
            tags: None,
            deprecated: None,
            location: lsp::Location { uri: uri.clone(), range: translate::range(context.text.span(&symbol.range)) },
            container_name: container.map(str::to_string),
        });
        flatten(symbol.children, Some(&symbol.name), context, out);
    }
}
