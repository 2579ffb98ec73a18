//! Pages that a lens or a command leads to: the working of a stage, the requirements of a design. They stand on no disk: their address
//! names the document and what they are about, and their text is worked out when it is asked for.

use serde::{Deserialize, Serialize};
use serde_json::Value;
use tower_lsp::ls_types as lsp;
use workbench::{Lensed, Sheet};

use super::bench::View;
use super::work::{Context, Feature};

/// The command that shows the working of a stage: document, stage.
pub const DERIVE: &str = "stagewright.derive";
/// The command that shows the requirements of a design: document.
pub const REQUIREMENTS: &str = "stagewright.requirements";
/// All commands.
pub const COMMANDS: [&str; 2] = [DERIVE, REQUIREMENTS];

/// In front of the address of a page.
const PAGE: &str = "stagewright:///page/";

/// What a page is about, as it crosses the pipe.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "of", rename_all = "camelCase")]
pub enum About {
    /// A stage's working.
    Working {
        /// The stage.
        stage: String,
    },
    /// A stage at the ends of its controls.
    Ends {
        /// The stage.
        stage: String,
    },
    /// A design's requirements.
    Requirements,
}

impl From<About> for Lensed {
    fn from(about: About) -> Lensed {
        match about {
            About::Working { stage } => Lensed::Working(stage),
            About::Ends { stage } => Lensed::Ends(stage),
            About::Requirements => Lensed::Requirements,
        }
    }
}

impl About {
    /// As the workbench calls it.
    pub fn of(about: &Lensed) -> About {
        match about {
            Lensed::Working(stage) => About::Working { stage: stage.clone() },
            Lensed::Ends(stage) => About::Ends { stage: stage.clone() },
            Lensed::Requirements => About::Requirements,
        }
    }

    /// The command that leads to the page.
    pub fn command(&self, title: &str, uri: &str) -> lsp::Command {
        let (command, arguments): (&str, Vec<Value>) = match self {
            About::Working { stage } | About::Ends { stage } => (DERIVE, vec![uri.into(), stage.as_str().into()]),
            About::Requirements => (REQUIREMENTS, vec![uri.into()]),
        };
        lsp::Command { title: title.into(), command: command.into(), arguments: Some(arguments) }
    }

    /// What a command is about, with its document; `None` where there is no such command, or it lacks something.
    pub fn commanded(command: &str, arguments: &[Value]) -> Option<(String, About)> {
        let word = |i: usize| arguments.get(i).and_then(Value::as_str).map(String::from);
        match command {
            DERIVE => Some((word(0)?, About::Working { stage: word(1)? })),
            REQUIREMENTS => Some((word(0)?, About::Requirements)),
            _ => None,
        }
    }

    /// The address of the page. It ends as Markdown files do, so that an editor knows what it is.
    pub fn address(&self, uri: &str) -> String {
        let name = match self {
            About::Working { stage } | About::Ends { stage } => format!("working/{}", coded(stage)),
            About::Requirements => "requirements".to_string(),
        };
        format!("{PAGE}{}/{name}.md", coded(uri))
    }

    /// What the page at an address is about, with its document.
    pub fn at(address: &str) -> Option<(String, About)> {
        let (uri, name) = address.strip_prefix(PAGE)?.strip_suffix(".md")?.split_once('/')?;
        let about = match name.split_once('/') {
            Some(("working", stage)) => About::Working { stage: decoded(stage)? },
            None if name == "requirements" => About::Requirements,
            _ => return None,
        };
        Some((decoded(uri)?, about))
    }
}

/// Text with everything but letters, digits, `-` and `.` coded by its bytes, in characters that no editor writes otherwise: some decode the
/// usual `%2F` and never code it again.
fn coded(text: &str) -> String {
    text.bytes().fold(String::new(), |mut out, b| {
        if b.is_ascii_alphanumeric() || matches!(b, b'-' | b'.') {
            out.push(b as char);
        } else {
            out.push_str(&format!("_{b:02X}"));
        }
        out
    })
}

fn decoded(text: &str) -> Option<String> {
    let mut bytes = Vec::with_capacity(text.len());
    let mut rest = text.bytes();
    while let Some(b) = rest.next() {
        if b != b'_' {
            bytes.push(b);
            continue;
        }
        let digit = |b: Option<u8>| (b? as char).to_digit(16);
        bytes.push((16 * digit(rest.next())? + digit(rest.next())?) as u8);
    }
    String::from_utf8(bytes).ok()
}

/// The request for a page.
#[derive(Debug)]
pub struct Page {
    /// The document.
    pub uri: String,
    /// What the page is about.
    pub about: About,
}

/// A page, as a command gives it.
#[derive(Clone, Debug, Serialize)]
pub struct Shown {
    /// Its address.
    pub uri: String,
    /// What it is about.
    pub title: String,
    /// In Markdown.
    pub markdown: String,
    /// In plain text.
    pub text: String,
}

impl Feature for Page {
    type Answer = Option<Shown>;
    const METHOD: &'static str = "workspace/executeCommand";
    fn uri(&self) -> &str {
        &self.uri
    }
    fn compute<V: View>(&self, view: &V, context: &Context) -> Self::Answer {
        let Sheet { title, markdown, plain } = view.lens_page(&context.path, &self.about.clone().into())?;
        Some(Shown { uri: self.about.address(&self.uri), title, markdown, text: plain })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_address_leads_back_to_what_it_was_made_of() {
        for uri in ["untitled:owl-box", "file:///bells/b%C3%A9 #2.stage", "file:///c%3A/bells/µ.stage"] {
            for about in [About::Working { stage: "preamp".into() }, About::Requirements] {
                assert_eq!(About::at(&about.address(uri)), Some((uri.to_string(), about)));
            }
        }
        assert_eq!(About::at("stagewright:///library/types.stage"), None);
        assert_eq!(About::at("stagewright:///page/_4/requirements.md"), None);
    }
}
