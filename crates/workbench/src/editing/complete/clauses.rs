//! `at`, `over`, `when` … behind a quantity, and what stands behind each of them.

use notation::token::TokenKind;
use quantity::Want;

use super::basket::{choice, template, text};
use super::cursor::{Amount, Tok, amount, behind};
use super::{Basket, CompletionKind, Piece, Scene, nodes, parts, units, values};
use crate::editing::family::device;

const WORDS: [&str; 5] = ["at", "over", "when", "from", "against"];

/// The words of the clauses that a quantity takes and has not got yet. `of` is the first name that it is of.
pub(crate) fn words(scene: &Scene, out: &mut Basket, words: &str, given: &[Tok], of: Option<&str>) {
    let c = &scene.cursor;
    if !c.naming() {
        return;
    }
    let there = |clause: &str| given.iter().chain(&c.after).any(|t| t.text == clause);
    let takes = |clause: &str| circuit::taken::takes(words, clause);
    // A reading is taken at one frequency or over a band.
    let placed = there("at") || there("over");
    for (i, clause) in WORDS.iter().enumerate().filter(|(_, c)| takes(c) && !there(c)) {
        if matches!(*clause, "at" | "over") && placed {
            continue;
        }
        let Some(behind) = stands_behind(scene, clause, words, of) else { continue };
        let insert = [vec![text(format!("{clause} "))], behind].concat();
        out.put(i as u32, CompletionKind::Clause, *clause).insert(insert).page(clause);
    }
    if takes("weighted") && !given.iter().chain(&c.after).any(|t| t.kind == TokenKind::Weighted) {
        for weighting in ["A-weighted", "468-weighted"] {
            out.put(6, CompletionKind::Clause, weighting).page(weighting);
        }
    }
}

/// What a clause begins with; `None` where the file has nothing for it.
fn stands_behind(scene: &Scene, clause: &str, words: &str, of: Option<&str>) -> Option<Vec<Piece>> {
    let known = &scene.known;
    Some(match clause {
        "at" => template("{1:1 kHz}"),
        "over" => {
            let [low, high] = known.band();
            template(&format!("{{1:{low}}} .. {{2:{high}}}"))
        }
        "against" => template("{1:1 kHz}"),
        "when" => {
            let settings: Vec<String> = known.settings().map(|(n, _)| n.to_string()).collect();
            if settings.is_empty() {
                let all = known.all_parts();
                let (control, ..) = all.iter().find(|(_, p, _)| &*p.class == "VR")?;
                template(&format!("{{1:{}}} {{2:50 %}}", device(control)))
            } else {
                vec![choice(1, settings)]
            }
        }
        _ => {
            let sources = match words {
                "input impedance" | "output impedance" => {
                    let stage = known.stages().find(|s| s.name.as_deref() == of)?;
                    let ports = if words.starts_with("in") { &stage.inputs } else { &stage.outputs };
                    ports.iter().map(ToString::to_string).collect()
                }
                _ => sources(scene),
            };
            if sources.is_empty() {
                return None;
            }
            vec![choice(1, sources)]
        }
    })
}

/// The written sources; without any, each input port that no stage drives has one.
fn sources(scene: &Scene) -> Vec<String> {
    let known = &scene.known;
    let written: Vec<String> = known.sources().map(|(n, _)| n.to_string()).collect();
    if !written.is_empty() {
        return written;
    }
    let driven =
        |n: &notation::Name| known.stages().any(|s| s.outputs.contains(n)) || known.rails().any(|(r, _)| r == n);
    let mut open: Vec<String> = Vec::new();
    for port in known.stages().flat_map(|s| &s.inputs).filter(|n| !driven(n)) {
        if !open.iter().any(|o| **o == **port) {
            open.push(port.to_string());
        }
    }
    open
}

/// Inside of the clauses of a quantity, from the first one's word on.
pub(crate) fn inside(scene: &Scene, out: &mut Basket, words: &str, toks: &[Tok], of: Option<&str>) {
    let last = toks.iter().rposition(|t| WORDS.contains(&t.text) && t.kind == TokenKind::Name);
    let weighted = toks.iter().rposition(|t| t.kind == TokenKind::Weighted);
    if weighted > last {
        return self::words(scene, out, words, toks, of);
    }
    let Some(at) = last else { return };
    let own = &toks[at + 1..];
    let more = |out: &mut Basket| self::words(scene, out, words, toks, of);
    match toks[at].text {
        "at" => frequency(scene, out, own, &more),
        "over" => {
            if range(scene, out, own, Want::Frequency) {
                more(out);
            }
        }
        "when" => states(scene, out, own, &more),
        "from" => match own {
            [] if words.ends_with("put impedance") => {
                let ports = scene.known.stages().find(|s| s.name.as_deref() == of);
                let ports = ports.map(|s| if words.starts_with("in") { &s.inputs } else { &s.outputs });
                for port in ports.into_iter().flatten() {
                    out.put(0, CompletionKind::Node, &**port);
                }
            }
            [] => {
                for source in sources(scene) {
                    let level = scene.known.sources().find(|(n, _)| **n == *source).map(|(_, l)| l.to_string());
                    out.put(0, CompletionKind::Node, source).detail(level.unwrap_or_default());
                }
                nodes::pairs(scene, out, 1);
            }
            _ => more(out),
        },
        _ => match own {
            [] => {
                values::figure(scene, out, Want::Frequency);
                if words == "flatness" && scene.cursor.naming() {
                    for curve in scene.known.lets() {
                        out.put(1, CompletionKind::Let, &**curve).page("let");
                    }
                }
            }
            [curve] if curve.kind == TokenKind::Name => more(out),
            _ => frequency(scene, out, own, &more),
        },
    }
}

/// One frequency, then what follows it.
fn frequency(scene: &Scene, out: &mut Basket, toks: &[Tok], more: &dyn Fn(&mut Basket)) {
    if values::amount(scene, out, toks, Want::Frequency) {
        more(out);
    }
}

/// `a .. b`; whether both ends are there.
pub(crate) fn range(scene: &Scene, out: &mut Basket, toks: &[Tok], want: Want) -> bool {
    let (dots, end) = behind(toks, &[TokenKind::Range]);
    match amount(end) {
        Amount::Missing if end.is_empty() => values::figure(scene, out, want),
        Amount::Missing => {}
        Amount::Bare(n) if n == end.len() => units::behind_figure(scene, out, &end[n - 1], want, 0),
        Amount::Bare(_) | Amount::Whole(_) => return dots.is_some(),
    }
    false
}

/// Settings and positions of controls, then what follows them.
fn states(scene: &Scene, out: &mut Basket, toks: &[Tok], more: &dyn Fn(&mut Basket)) {
    let (comma, own) = behind(toks, &[TokenKind::Comma]);
    match own {
        [] => {
            if scene.cursor.naming() {
                let given: Vec<&str> = toks.iter().map(|t| t.text).collect();
                for (setting, states) in scene.known.settings().filter(|(n, _)| !given.contains(&&**n)) {
                    let rank = if comma.is_some() { 2 } else { 0 };
                    out.put(rank, CompletionKind::Setting, &**setting).detail(&**states).page("setting");
                }
            }
            controls(scene, out);
        }
        _ => {
            if position(scene, out, own) {
                more(out);
            }
        }
    }
}

/// A control, with `all` in front where there are copies.
pub(crate) fn controls(scene: &Scene, out: &mut Basket) {
    if !scene.cursor.naming() {
        return;
    }
    // In front of a part stands `all` or nothing.
    if scene.cursor.after.first().is_none_or(|t| t.kind != TokenKind::Part) {
        parts::controls(scene, out, 1);
    }
    if scene.known.stages().any(|s| s.pattern.is_some()) {
        let insert = template(if scene.cursor.ends() { "all " } else { "all" });
        out.put(5, CompletionKind::Word, "all").detail("a part and its copies").insert(insert).page("all");
    }
}

/// Behind a control: where it stands. Whether a state is whole.
pub(crate) fn position(scene: &Scene, out: &mut Basket, own: &[Tok]) -> bool {
    let own = if own.first().is_some_and(|t| t.text == "all") { &own[1..] } else { own };
    match own {
        [] => parts::controls(scene, out, 0),
        [control] if control.kind == TokenKind::Part => parts::positions(scene, out, control.text),
        // A setting is whole by its name.
        [_] => return true,
        [control, figure]
            if figure.kind == TokenKind::Figure
                && !control.text.contains("SW")
                && amount(&own[1..]) == Amount::Bare(1) =>
        {
            units::behind_figure(scene, out, figure, Want::Percentage, 0);
        }
        _ => return true,
    }
    false
}
