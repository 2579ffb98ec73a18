//! Code lenses: where they stand at once, what they say for those that are looked at.

use serde::{Deserialize, Serialize};
use tower_lsp::ls_types as lsp;
use workbench::{Lens, Lensed};

use super::bench::View;
use super::pages::About;
use super::translate;
use super::work::{Context, Feature};

/// The request.
#[derive(Debug)]
pub struct Lenses {
    /// The document.
    pub uri: String,
}

/// By what a lens is found again.
#[derive(Clone, Debug, Serialize, Deserialize)]
struct Data {
    uri: String,
    about: About,
}

impl Feature for Lenses {
    type Answer = Option<Vec<lsp::CodeLens>>;
    const METHOD: &'static str = "textDocument/codeLens";
    fn uri(&self) -> &str {
        &self.uri
    }
    fn compute<V: View>(&self, view: &V, context: &Context) -> Self::Answer {
        if !context.settings.lenses {
            return Some(Vec::new());
        }
        let one = |Lens { range, about }: Lens| {
            let about = About::of(&about);
            // What says the same always need not be asked for again.
            let command = matches!(about, About::Working { .. }).then(|| about.command("derive", &context.uri));
            let data = Data { uri: context.uri.to_string(), about };
            lsp::CodeLens {
                range: translate::range(context.text.span(&range)),
                data: command.is_none().then(|| serde_json::to_value(data).ok()).flatten(),
                command,
            }
        };
        Some(view.lenses(&context.path).into_iter().map(one).collect())
    }
}

/// The request for what a lens says.
#[derive(Debug)]
pub struct Resolve {
    lens: lsp::CodeLens,
    data: Option<Data>,
}

impl Resolve {
    /// Of a lens as the client was shown it.
    pub fn of(lens: lsp::CodeLens) -> Resolve {
        let data = lens.data.as_ref().and_then(|data| Data::deserialize(data).ok());
        Resolve { lens, data }
    }

    /// Whether there is nothing to be added to it.
    pub fn whole(&self) -> bool {
        self.data.is_none() || self.lens.command.is_some()
    }

    /// As the client sent it.
    pub fn into_lens(self) -> lsp::CodeLens {
        self.lens
    }
}

impl Feature for Resolve {
    type Answer = Option<lsp::CodeLens>;
    const METHOD: &'static str = "codeLens/resolve";
    fn uri(&self) -> &str {
        self.data.as_ref().map_or("", |data| &data.uri)
    }
    fn describe(&self) -> String {
        format!("{:?}", self.data)
    }
    fn compute<V: View>(&self, view: &V, context: &Context) -> Self::Answer {
        let about = &self.data.as_ref()?.about;
        let lensed = Lensed::from(about.clone());
        let said = view.lens_title(&context.path, &lensed);
        let mut kept = context.lenses.lock().ok()?;
        let text = match said {
            // While a line is unfinished, what was said last stands.
            Some(said) if said.waits => kept.get(&lensed).cloned().unwrap_or(said.text),
            Some(said) => {
                kept.insert(lensed, said.text.clone());
                said.text
            }
            None => kept.get(&lensed).cloned()?,
        };
        Some(lsp::CodeLens { command: Some(about.command(&text, &context.uri)), ..self.lens.clone() })
    }
}
