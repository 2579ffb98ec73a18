//! Holds the workbench's place until it is there: it knows texts and has nothing to say about them.

use std::any::Any;
use std::ops::Range;
use std::sync::Arc;

use stagewright::serve::{Bench, View};
use workbench::{Hint, Hover, Problem, Symbol};

/// Has nothing to say.
#[derive(Clone)]
pub struct Empty;

impl Bench for Empty {
    type View = Empty;
    fn set_text(&mut self, _: &str, _: String) {}
    fn close(&mut self, _: &str) {}
    fn view(&self) -> Empty {
        Empty
    }
}

impl View for Empty {
    fn problems(&self, _: &str) -> Arc<Vec<Problem>> {
        Arc::default()
    }
    fn hints(&self, _: &str, _: Option<Range<usize>>) -> Vec<Hint> {
        Vec::new()
    }
    fn hover(&self, _: &str, _: usize) -> Option<Hover> {
        None
    }
    fn symbols(&self, _: &str) -> Vec<Symbol> {
        Vec::new()
    }
    fn torn(&self, _: &str) -> Option<u32> {
        None
    }
    fn overtaken(_: &(dyn Any + Send)) -> bool {
        false
    }
}
