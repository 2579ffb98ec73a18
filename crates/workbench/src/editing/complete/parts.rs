//! Parts: the next free designators where one is made, and those of the file where one is named.

use notation::token::TokenKind;
use notation::word::CLASSES;

use super::basket::{stop, text};
use super::{Basket, CompletionKind, Piece, Scene, values};
use crate::editing::family::device;

/// New parts of a path: the next number of each class that stands in paths.
pub(crate) fn new_in_path(scene: &Scene, out: &mut Basket, rank: u32) {
    // Behind a value that stands there already, a second one would be in the way.
    let valued = scene.cursor.after.first().is_some_and(|t| !matches!(t.kind, TokenKind::Link | TokenKind::Parallel));
    for (i, (class, what, _)) in CLASSES.iter().enumerate().filter(|(_, c)| c.0 != "U") {
        let mut put = |rank: u32, number: u32| {
            let name = format!("{class}{number}");
            let insert =
                if valued { vec![text(&name)] } else { [vec![text(format!("{name} "))], value(class)].concat() };
            out.put(rank, CompletionKind::Part, &name).detail(*what).insert(insert).page(class);
        };
        put(rank + i as u32, scene.known.free(class));
        // A number that was left out, as by a part that went.
        if let Some(gap) = scene.known.gap(class) {
            put(rank + 10 + i as u32, gap);
        }
    }
}

/// What stands behind a new part's name at first.
fn value(class: &str) -> Vec<Piece> {
    match class {
        "R" => vec![stop(1, "10k")],
        "C" => vec![stop(1, "100n")],
        "L" => vec![stop(1, "10m")],
        "VR" => vec![stop(1, "10k"), text(" "), stop(2, "lin")],
        _ => vec![Piece::Choice(1, vec!["open".into(), "closed".into()])],
    }
}

/// New devices, each with its whole line: an amplifier, a control, a selector.
pub(crate) fn new_devices(scene: &Scene, out: &mut Basket, rank: u32) {
    let known = &scene.known;
    let [input, output] = scene.ports();
    let kind = super::types::usual(scene);
    let mut device = |i: u32, name: String, what: &str, line: Vec<Piece>| {
        let insert = match scene.cursor.ends() {
            true => [vec![text(&name)], line].concat(),
            false => vec![text(&name)],
        };
        let page = name.trim_end_matches(|c: char| !c.is_ascii_uppercase()).to_string();
        out.put(rank + i, CompletionKind::Part, name).detail(what).insert(insert).page(&page);
    };
    let amplifier =
        |own: &str| super::basket::template(&format!(" {{1:{kind}}}: + {{2:{own}}}, - {{3:fb}}, out {{4:{output}}}"));
    if let Some(next) = next_unit(scene) {
        device(0, next, "the next amplifier of the package", amplifier(&input));
    }
    device(1, format!("U{}a", known.free("U")), "operational amplifier", amplifier(&input));
    if let Some(gap) = known.gap("U") {
        device(4, format!("U{gap}a"), "operational amplifier", amplifier(&input));
    }
    let track = " {1:10k} {2:lin}: cw {3:a}, wiper {4:b}, ccw {5:gnd}";
    device(2, format!("VR{}", known.free("VR")), "variable resistor", super::basket::template(track));
    let ways = " at {1:1}: pole {2:a}, 1 {3:b}, 2 {4:c}";
    device(3, format!("SW{}", known.free("SW")), "switch", super::basket::template(ways));
    if let Some(gap) = known.gap("VR") {
        device(5, format!("VR{gap}"), "variable resistor", super::basket::template(track));
    }
}

/// `U1b` behind `U1a`: the next unit letter of the last package, where units have letters.
fn next_unit(scene: &Scene) -> Option<String> {
    let known = &scene.known;
    let number = known.free("U").checked_sub(1).filter(|n| *n > 0)?;
    let units =
        known.blocks.iter().flat_map(|b| known.parts(b)).filter(|p| &*p.class == "U" && p.number == Some(number));
    let taken: Vec<char> = units.filter_map(|p| p.unit).collect();
    if taken.is_empty() {
        return None;
    }
    // A package holds four at most.
    let next = ('a'..='d').find(|c| !taken.contains(c))?;
    Some(format!("U{number}{next}"))
}

/// The parts of the file of some classes.
pub(crate) fn known(scene: &Scene, out: &mut Basket, rank: u32, classes: &[&str]) {
    // Two names in a row are none.
    if scene.cursor.after.first().is_some_and(|t| t.kind == TokenKind::Part) {
        return;
    }
    let given: Vec<&str> = scene.cursor.before.iter().chain(&scene.cursor.after).map(|t| t.text).collect();
    for (name, part, stage) in scene.known.all_parts() {
        if !classes.contains(&&*part.class) {
            continue;
        }
        // Where names are listed one does not stand twice.
        let rank = if given.contains(&&*name) { rank + 50 } else { rank };
        let detail = [&*part.value, stage].iter().filter(|w| !w.is_empty()).copied().collect::<Vec<_>>().join(" · ");
        out.put(rank, CompletionKind::Part, name).detail(detail).page(&part.class);
    }
}

/// The controls of the file, by shaft: `VR1` for `VR1a` and `VR1b`.
pub(crate) fn controls(scene: &Scene, out: &mut Basket, rank: u32) {
    for (name, part, stage) in scene.known.all_parts() {
        if matches!(&*part.class, "VR" | "SW") {
            let shaft = device(&name).to_string();
            let detail = format!("{} · {stage}", part.value);
            out.put(rank, CompletionKind::Part, shaft).detail(detail).page(&part.class);
        }
    }
}

/// Where a control may stand.
pub(crate) fn positions(scene: &Scene, out: &mut Basket, control: &str) {
    let all = scene.known.all_parts();
    let shaft = device(control);
    let units = all.iter().filter(|(name, ..)| device(name) == shaft);
    if !control.rsplit('.').next().is_some_and(|own| own.starts_with("SW")) {
        return values::percent(scene, out, &["0", "50", "100"]);
    }
    let mut steps: Vec<u32> = units.flat_map(|(_, part, _)| part.positions.iter().copied()).collect();
    steps.sort_unstable();
    steps.dedup();
    for step in &steps {
        out.put(0, CompletionKind::Setting, step.to_string()).detail(format!("{shaft}'s position {step}"));
    }
    if steps.is_empty() {
        for state in ["open", "closed"] {
            out.put(0, CompletionKind::Setting, state).detail(format!("{shaft} {state}")).page(state);
        }
    }
}
