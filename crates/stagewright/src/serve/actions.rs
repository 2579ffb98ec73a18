//! Code actions: the ways out that problems name as quick fixes, what else may be done at a place, and the edits of those that wait for
//! somebody to take them.

use std::ops::Range;

use serde::{Deserialize, Serialize};
use serde_json::{Map, Value, json};
use tower_lsp::ls_types as lsp;
use workbench::{Action, ActionKind, Asking, Edit, Fix, Problem, Ways};

use super::bench::View;
use super::diagnostics::{diagnostic, touches};
use super::position::{Position, Span};
use super::snippet::escaped;
use super::work::{Context, Feature};

/// The method under which code actions are asked for here: the framework's types know no snippets in edits (LSP 3.18).
pub const OWN_METHOD: &str = "stagewright/codeAction";
/// The same for the edits of one that is taken.
pub const OWN_RESOLVE: &str = "stagewright/codeAction/resolve";

/// The kinds that are offered.
pub fn kinds() -> Vec<lsp::CodeActionKind> {
    KINDS.iter().map(|(_, kind)| lsp::CodeActionKind::from(*kind)).collect()
}

const KINDS: [(ActionKind, &str); 5] = [
    (ActionKind::QuickFix, "quickfix"),
    (ActionKind::Rewrite, "refactor.rewrite"),
    (ActionKind::Extract, "refactor.extract"),
    (ActionKind::FixAll, "source.fixAll"),
    (ActionKind::Renumber, "source.renumber"),
];

fn kind_of(kind: ActionKind) -> &'static str {
    KINDS.iter().find(|(k, _)| *k == kind).map_or("", |(_, name)| name)
}

/// The request.
#[derive(Debug)]
pub struct Actions {
    /// The document.
    pub uri: String,
    /// The selection.
    pub span: Span,
    /// The kinds that the client wants; none means all.
    pub only: Vec<String>,
    /// Somebody asked by hand; else the editor wants to know whether there is anything, and nothing takes its time.
    pub by_hand: bool,
}

impl Actions {
    /// A client that asks for a kind means the kinds below it too. What is about the whole file is for those who ask for it, or stand at
    /// the file's first heading.
    fn wants(&self, kind: ActionKind, at_design: bool) -> bool {
        let name = kind_of(kind);
        let below = |only: &str| name.strip_prefix(only).is_some_and(|rest| rest.is_empty() || rest.starts_with('.'));
        if !self.only.is_empty() {
            return self.only.iter().any(|only| only.is_empty() || below(only));
        }
        !name.starts_with("source") || (self.by_hand && at_design)
    }
}

/// A code action as the protocol has it.
#[derive(Clone, Debug, Default, Serialize)]
#[serde(rename_all = "camelCase")]
pub struct Shown {
    title: String,
    kind: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    diagnostics: Option<Vec<Value>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    is_preferred: Option<bool>,
    #[serde(skip_serializing_if = "Option::is_none")]
    disabled: Option<Value>,
    #[serde(skip_serializing_if = "Option::is_none")]
    edit: Option<Value>,
    #[serde(skip_serializing_if = "Option::is_none")]
    data: Option<Data>,
}

/// By what an action whose edits wait is found again.
#[derive(Clone, Debug, Serialize, Deserialize)]
struct Data {
    uri: String,
    version: i32,
    /// Line and column of both ends, as the client counts them.
    at: [u32; 4],
    kind: String,
    title: String,
}

impl Feature for Actions {
    type Answer = Option<Vec<Shown>>;
    const METHOD: &'static str = "textDocument/codeAction";
    fn uri(&self) -> &str {
        &self.uri
    }
    fn compute<V: View>(&self, view: &V, context: &Context) -> Self::Answer {
        if !context.abilities.action_literals {
            return Some(Vec::new());
        }
        let range = context.text.range(self.span);
        let at_design = view.at_design(&context.path, range.start);
        let mut all = Vec::new();
        if self.wants(ActionKind::QuickFix, at_design) {
            let problems = view.reviewed(&context.path);
            for problem in problems.iter().filter(|problem| touches(&problem.range, &range)) {
                let ways = if self.by_hand {
                    view.ways_out(&context.path, problem)
                } else {
                    Ways { fixes: problem.fixes.clone(), ..Ways::default() }
                };
                all.extend(fixes(view, problem, &ways, context));
            }
        }
        let kinds: Vec<ActionKind> = KINDS.iter().map(|(k, _)| *k).filter(|k| self.wants(*k, at_design)).collect();
        let edits = !context.abilities.resolves_edits;
        let asking = Asking { kinds: &kinds, by_hand: self.by_hand, edits, budget: context.settings.budget };
        for action in view.actions(&context.path, range, &asking) {
            if action.disabled.is_some() && !context.abilities.disabled_actions {
                continue;
            }
            // A way out of a problem may be the same thing.
            if !all.iter().any(|shown: &Shown| shown.title == action.title) {
                all.push(self.shown(&action, context));
            }
        }
        Some(all)
    }
}

impl Actions {
    fn shown(&self, action: &Action, context: &Context) -> Shown {
        let waits = action.edits.is_none() && action.disabled.is_none();
        let Span { start, end } = self.span;
        let data = waits.then(|| Data {
            uri: self.uri.clone(),
            version: context.version,
            at: [start.line, start.character, end.line, end.character],
            kind: kind_of(action.kind).to_string(),
            title: action.title.clone(),
        });
        Shown {
            title: action.title.clone(),
            kind: kind_of(action.kind),
            disabled: action.disabled.as_ref().map(|why| json!({ "reason": why })),
            edit: action.edits.as_ref().map(|edits| workspace_edit(edits, action.placeholder, context)),
            data,
            ..Shown::default()
        }
    }
}

fn fixes<V: View>(view: &V, problem: &Problem, ways: &Ways, context: &Context) -> Vec<Shown> {
    let answered = serde_json::to_value(diagnostic(problem, context)).ok();
    let action = |(i, fix): (usize, &Fix)| Shown {
        title: fix.title.clone(),
        kind: "quickfix",
        diagnostics: answered.clone().map(|diagnostic| vec![diagnostic]),
        edit: Some(workspace_edit(&view.laid(&context.path, &fix.edits), None, context)),
        is_preferred: context.abilities.preferred_actions.then_some(i == 0),
        ..Shown::default()
    };
    // That nothing was found is an answer too, where the client can show it.
    let none = ways.none.iter().filter(|_| context.abilities.disabled_actions).map(|why| Shown {
        title: "change one part's value".into(),
        kind: "quickfix",
        disabled: Some(json!({ "reason": why })),
        ..Shown::default()
    });
    ways.fixes.iter().enumerate().map(action).chain(none).collect()
}

/// Edits of the document, with its version where the client looks at it; a word that is to be replaced is left selected where it can.
fn workspace_edit(edits: &[Edit], placeholder: Option<&str>, context: &Context) -> Value {
    let abilities = &context.abilities;
    let one = |edit: &Edit| {
        let range = json!(context.text.span(&edit.range));
        let held =
            placeholder.filter(|word| abilities.snippet_edits && abilities.versioned_edits && edit.text.contains(word));
        match held {
            Some(word) => {
                let (before, after) = edit.text.split_once(word).unwrap_or((&edit.text, ""));
                let value = format!("{}${{0:{}}}{}", escaped(before), escaped(word), escaped(after));
                json!({ "range": range, "snippet": { "kind": "snippet", "value": value } })
            }
            None => json!({ "range": range, "newText": edit.text }),
        }
    };
    let edits: Vec<Value> = edits.iter().map(one).collect();
    if abilities.versioned_edits {
        let document = json!({ "uri": &*context.uri, "version": context.version });
        json!({ "documentChanges": [{ "textDocument": document, "edits": edits }] })
    } else {
        let mut changes = Map::new();
        changes.insert(context.uri.to_string(), edits.into());
        json!({ "changes": changes })
    }
}

/// The request for the edits of an action that somebody takes.
#[derive(Debug)]
pub struct Resolve {
    action: Value,
    data: Option<Data>,
}

impl Resolve {
    /// Of an action as the client was shown it.
    pub fn of(action: Value) -> Resolve {
        let data = action.get("data").and_then(|data| Data::deserialize(data).ok());
        Resolve { action, data }
    }

    /// Whether there is nothing to be added to it.
    pub fn whole(&self) -> bool {
        self.data.is_none() || self.action.get("edit").is_some_and(|edit| !edit.is_null())
    }

    /// As the client sent it.
    pub fn into_action(self) -> Value {
        self.action
    }
}

impl Feature for Resolve {
    /// `None` where the text is not the one that the action was offered for.
    type Answer = Option<Value>;
    const METHOD: &'static str = "codeAction/resolve";
    fn uri(&self) -> &str {
        self.data.as_ref().map_or("", |data| &data.uri)
    }
    fn describe(&self) -> String {
        format!("{:?}", self.data)
    }
    fn compute<V: View>(&self, view: &V, context: &Context) -> Self::Answer {
        let data = self.data.as_ref().filter(|data| data.version == context.version)?;
        let [line, character, to, end] = data.at;
        let span = Span { start: Position { line, character }, end: Position { line: to, character: end } };
        let range: Range<usize> = context.text.range(span);
        let kind = KINDS.iter().find(|(_, name)| *name == data.kind)?.0;
        let found = view.action(&context.path, range, (kind, &data.title), context.settings.budget)?;
        let mut action = self.action.clone();
        action["edit"] = workspace_edit(found.edits.as_deref()?, found.placeholder, context);
        Some(action)
    }
}
