//! Rules behind `accept`.

use notation::token::TokenKind;

use super::basket::{stop, text};
use super::cursor::Tok;
use super::{Basket, CompletionKind, Scene, nodes, parts};

/// All rules that may be conceded, with blanks in their names.
fn rules() -> impl Iterator<Item = String> {
    let all = crate::accept::RULES.iter().copied().chain(argument::rules::RULES.iter().map(|r| r.id));
    all.map(|id| id.replace('-', " "))
}

/// Behind `accept`: the rule's words, `for`, the name, the reason.
pub(crate) fn entry(scene: &Scene, out: &mut Basket, toks: &[Tok]) {
    let c = &scene.cursor;
    if let Some(at) = toks.iter().position(|t| t.text == "for") {
        if toks.len() == at + 1 {
            parts::known(scene, out, 0, &["R", "C", "L", "VR", "SW", "U"]);
            nodes::stages(scene, out, 1);
            nodes::places(scene, out);
        }
        return;
    }
    if toks.iter().any(|t| t.kind != TokenKind::Name) || !c.naming() {
        return;
    }
    let said = toks.iter().map(|t| t.text).collect::<Vec<_>>().join(" ");
    for rule in rules() {
        if rule == said {
            if c.after.first().is_none_or(|t| t.text != "for") {
                out.put(0, CompletionKind::Clause, "for").page("accept");
            }
            continue;
        }
        let Some(label) = rule.strip_prefix(&said).filter(|l| said.is_empty() || l.starts_with(' ')) else { continue };
        let label = label.trim_start();
        let mut insert = vec![text(label)];
        if c.ends() {
            let name = first(scene);
            insert.extend([text(" for "), stop(1, name), text(": \""), stop(2, "the reason"), text("\"")]);
        }
        let limit = argument::rules::find(&rule.replace(' ', "-")).map_or("", |r| r.limit);
        out.put(0, CompletionKind::Rule, label).detail(limit).insert(insert).page(&rule);
    }
}

/// A name to be typed over.
fn first(scene: &Scene) -> String {
    let part = scene.known.all_parts().into_iter().next().map(|(name, ..)| name);
    part.unwrap_or_else(|| "out".to_string())
}
