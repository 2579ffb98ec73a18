//! What a hint says to who looks closer: its working, and the places of the parts that its label names.

use std::sync::Arc;

use serde_json::{Value, json};
use workbench::named_parts;

use super::bench::View;
use super::elsewhere::location;
use super::hints::Data;
use super::position::{Position, Span};
use super::work::{Context, Feature};

/// The request.
#[derive(Debug)]
pub struct Resolve {
    /// The hint as the client has it.
    pub hint: Value,
    /// How it is found again, if it came from here.
    pub data: Option<Data>,
}

impl Resolve {
    /// Reads the request.
    pub fn of(hint: Value) -> Self {
        let data = hint.get("data").and_then(|data| serde_json::from_value(data.clone()).ok());
        Self { hint, data }
    }

    fn position(&self) -> Option<Position> {
        let number = |name: &str| self.hint["position"][name].as_u64().map(|n| n.min(u32::MAX.into()) as u32);
        Some(Position { line: number("line")?, character: number("character")? })
    }
}

/// The answer: the hint itself, with more to say where its text is still there.
#[derive(Debug, Default)]
pub struct Resolved(pub Option<Value>);

impl Feature for Resolve {
    type Answer = Resolved;
    const METHOD: &'static str = "inlayHint/resolve";
    fn uri(&self) -> &str {
        self.data.as_ref().map_or("", |data| &data.uri)
    }
    fn compute<V: View>(&self, view: &V, context: &Context) -> Resolved {
        let mut hint = self.hint.clone();
        let (Some(data), Some(position)) = (&self.data, self.position()) else { return Resolved(Some(hint)) };
        let line =
            Span { start: Position { character: 0, ..position }, end: Position { character: u32::MAX, ..position } };
        let there = view.hints(&context.path, Some(context.text.range(line)));
        if let Some(tooltip) = there.into_iter().find(|hint| hint.key == data.key).and_then(|hint| hint.tooltip) {
            hint["tooltip"] = json!(tooltip);
        }
        for part in hint["label"].as_array_mut().into_iter().flatten() {
            let name: Arc<str> = part["value"].as_str().unwrap_or_default().into();
            let made = Some(&name)
                .filter(|name| named_parts(name) == [(&***name, true)])
                .and_then(|name| view.made(&context.path, name));
            if let Some(location) = made.and_then(|(place, name)| location(place, &name, context)) {
                part["location"] = json!(location);
            }
        }
        Resolved(Some(hint))
    }
}
