//! What a parser has to say: the error type of the grammar, light when a branch merely does not fit.

use chumsky::error::{Error, LabelError};
use chumsky::util::MaybeRef;

use super::desk::{In, Tk};
use crate::tree::{Fault, Fix, Grade, Span};

/// Nothing (a branch did not fit, which is no fault), or a fault with the grade that it costs.
#[derive(Clone, Debug)]
pub(crate) struct Said(pub Option<Box<Trouble>>);

/// A fault and what it makes of its entry.
#[derive(Clone, Debug)]
pub(crate) struct Trouble {
    pub grade: Grade,
    pub fault: Fault,
}

impl Said {
    /// A branch that does not fit.
    pub const NOT_HERE: Said = Said(None);

    /// An end, a node or the part itself is missing.
    pub fn torn(id: &'static str, span: Span, message: impl Into<String>) -> Said {
        Said::new(Grade::Torn, id, span, message.into())
    }

    /// A value, a type or an attribute is missing or unreadable.
    pub fn open(id: &'static str, span: Span, message: impl Into<String>) -> Said {
        Said::new(Grade::Open, id, span, message.into())
    }

    /// Messages are sentences: one that ends without a mark gets its full stop here.
    fn new(grade: Grade, id: &'static str, span: Span, mut message: String) -> Said {
        if !message.ends_with(['.', '?']) {
            message.push('.');
        }
        Said(Some(Box::new(Trouble {
            grade,
            fault: Fault { id, span, message, unfinished: false, fixes: Vec::new() },
        })))
    }

    /// Says whether it is merely not finished yet.
    pub fn unfinished(mut self, unfinished: bool) -> Said {
        if let Some(trouble) = &mut self.0 {
            trouble.fault.unfinished = unfinished;
        }
        self
    }

    /// Adds a way out of several edits.
    pub fn fix_all(mut self, title: impl Into<String>, edits: Vec<(Span, String)>) -> Said {
        if let Some(trouble) = &mut self.0 {
            trouble.fault.fixes.push(Fix { title: title.into(), edits });
        }
        self
    }

    /// Adds a way out that replaces one place.
    pub fn fix(self, span: Span, text: impl Into<String>) -> Said {
        let text = text.into();
        self.fix_all(format!("write {}", text.trim()), vec![(span, text)])
    }
}

impl Error<'static, In> for Said {}

impl<L> LabelError<'static, In, L> for Said {
    fn expected_found<E: IntoIterator<Item = L>>(
        _: E,
        _: Option<MaybeRef<'static, Tk>>,
        _: <In as chumsky::input::Input<'static>>::Span,
    ) -> Self {
        Said::NOT_HERE
    }
}
