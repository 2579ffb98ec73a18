//! A change of a text that nobody sees, to find out what would follow from it.

use std::collections::{BTreeMap, HashMap};

use crate::database::{Desk, Document, Include};
use crate::desk::{Snapshot, Workbench};
use crate::plain::Edit;

/// The name of the file itself in a trial.
pub(crate) const HERE: &str = "0";

/// The files of a design, apart from those that are being edited.
pub(crate) struct Trial {
    bench: Workbench,
    text: String,
}

impl Trial {
    /// A file and all that it includes.
    pub fn of(db: &dyn Desk, document: Document) -> Trial {
        let (mut bench, mut names) = (Workbench::new(), HashMap::from([(document, HERE.to_string())]));
        let mut open = vec![document];
        let mut wired = Vec::new();
        while let Some(file) = open.pop() {
            bench.set_text(&names[&file], file.text(db).to_string());
            let mut named = BTreeMap::new();
            for (written, include) in file.includes(db).iter() {
                let what = match include {
                    Include::File(other, _) => {
                        let next = names.len().to_string();
                        Ok(names.entry(*other).or_insert_with(|| (open.push(*other), next).1).clone())
                    }
                    Include::Missing(why) => Err(why.clone()),
                };
                named.insert(written.clone(), what);
            }
            wired.push((names[&file].clone(), named));
        }
        for (name, named) in wired {
            bench.set_included(&name, named);
        }
        Trial { bench, text: document.text(db).to_string() }
    }

    /// The files with one edit of the text that the trial began with.
    pub fn with(&mut self, edit: &Edit) -> Snapshot {
        let mut text = self.text.clone();
        text.replace_range(edit.range.clone(), &edit.text);
        self.holding(text)
    }

    /// The files with another text in the place of the one that the trial began with.
    pub fn holding(&mut self, text: String) -> Snapshot {
        self.bench.set_text(HERE, text);
        self.bench.snapshot()
    }
}
