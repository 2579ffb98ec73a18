//! The documentation of what is offered, fetched when it is looked at.

use super::{About, types};
use crate::database::{Desk, Document};

/// Documentation in both forms.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Told {
    /// In Markdown.
    pub markdown: String,
    /// The same in plain text.
    pub plain: String,
}

/// What there is to read about a completion. A sheet may be of a file, and then its document is needed.
pub(crate) fn told(db: &dyn Desk, document: Option<Document>, about: &About) -> Option<Told> {
    match about {
        About::Nothing => None,
        About::Page(word) => {
            let page = manual::find(word)?;
            let more = format!("stagewright explain {}", page.title);
            Some(Told {
                markdown: format!("{}\n\n`{more}`", page.lead()),
                plain: format!("{}\n\n{more}", page.lead_plain()),
            })
        }
        About::Said(text) => {
            let plain = text.lines().filter(|l| !l.starts_with("```")).collect::<Vec<_>>().join("\n").replace('`', "");
            Some(Told { markdown: text.clone(), plain: plain.trim().to_string() })
        }
        About::Sheet(name) => sheet(db, document, name),
    }
}

/// A data sheet as it is written, with the comment above it.
fn sheet(db: &dyn Desk, document: Option<Document>, name: &str) -> Option<Told> {
    if name == "ideal" {
        return told(db, document, &About::Page("ideal".to_string()));
    }
    let own = document.and_then(|d| {
        let of_name = |key: &crate::database::BlockText| types::sheet_of(db, *key).is_some_and(|s| *s.name == *name);
        types::written(db, d).into_iter().find(|(_, key)| of_name(key)).map(|(_, key)| key.text(db).to_string())
    });
    let (text, about) = match own {
        Some(text) => (text, String::new()),
        None => {
            let origin = circuit::library::origin(name)?;
            let all = origin.volume.text;
            let end = all[origin.heading.start..].find("\n\n").map_or(all.len(), |n| origin.heading.start + n);
            let about = origin.description.map_or("", |d| &all[d]);
            let about = about.lines().map(|l| l.trim_start_matches(['#', ' '])).collect::<Vec<_>>().join(" ");
            (all[origin.heading.start..end].to_string(), about)
        }
    };
    let text = text.trim_end();
    let above = if about.is_empty() { String::new() } else { format!("{about}\n\n") };
    Some(Told { markdown: format!("{above}```stage\n{text}\n```"), plain: format!("{above}{text}") })
}
