//! Supplies: each rail once, at one voltage.

use notation::tree::{Fix, Word};
use quantity::{Style, Unit};

use crate::assemble::{Assembly, File, Place};
use crate::circuit::{GROUND, Given, NodeId, Supply, Tolerance};
use crate::piece::{PieceKind, Weight};

/// Where an entry gives `gnd` a voltage, it is not known what any rail's is counted from.
pub(crate) fn grounded(a: &mut Assembly) {
    let rails = || a.circuit.supplies.iter().flat_map(|s| &s.rails);
    let Some(why) = rails().find(|r| r.0 == GROUND && r.1.number().is_none()).map(|r| r.1.clone()) else { return };
    for rail in a.circuit.supplies.iter_mut().flat_map(|s| &mut s.rails) {
        rail.1 = why.clone();
    }
}

/// Takes the rails of one `supply` entry in.
pub(crate) fn supply(a: &mut Assembly, rails: &[(Word, Given, Option<Tolerance>)], block: u32, entry: u32) {
    let mut made = Supply { rails: Vec::new(), slack: Vec::new() };
    for (word, volts, slack) in rails {
        let place = Place { block, entry: Some(entry), span: word.span };
        let node = a.node(word, block, Some(entry));
        let mut volts = volts.clone();
        if node == GROUND && volts.number().is_some_and(|v| v != 0.0) {
            let message = "gnd is what all voltages are counted from, so it is at 0 V: a rail needs a name of its own"
                .to_string();
            a.find(Weight::Error, place, "gnd-supplied", message, &["gnd"]);
            volts = Given::Unknown("gnd is given a voltage".into());
        }
        let earlier = a.circuit.supplies.iter_mut().chain([&mut made]).flat_map(|s| &mut s.rails);
        let same: Vec<&mut Given> = earlier.filter(|r| r.0 == node && node != GROUND).map(|r| &mut r.1).collect();
        if !same.is_empty() {
            let why: notation::Name = format!("{} is supplied twice", word.text).into();
            for given in same {
                if *given != volts {
                    *given = Given::Unknown(why.clone());
                    volts = Given::Unknown(why.clone());
                }
            }
            let message = format!("{} is a supply's rail already: take one of the two away", word.text);
            a.find(Weight::Error, place, "repeated-rail", message, &[&word.text]);
        }
        made.rails.push((node, volts));
        if let Some(written) = *slack {
            let mut slack = written;
            let earlier = a.circuit.supplies.iter_mut().chain([&mut made]).flat_map(|s| &mut s.slack);
            for (_, other) in earlier.filter(|s| s.0 == node && s.1 != written) {
                (*other, slack) = (Tolerance::Two, Tolerance::Two);
            }
            made.slack.push((node, slack));
        }
    }
    a.free.extend(made.rails.iter().map(|r| r.0));
    a.circuit.supplies.push(made);
}

/// Amplifiers whose `supply` names the lower rail first.
pub(crate) fn exchanged(a: &mut Assembly, file: &File) {
    let volts = |a: &Assembly, word: &Word| -> Option<f64> {
        match *a.named.get(&word.text)? {
            GROUND => Some(0.0),
            node => rail(a, node),
        }
    };
    for (b, block) in file.blocks.iter().enumerate() {
        for (e, piece) in block.entries.iter().enumerate() {
            let PieceKind::Device(device) = &piece.kind else { continue };
            let pin = |name: &str| device.pins.iter().find(|p| p.0 == name).map(|p| &p.1);
            let (Some(high), Some(low)) = (pin("supply+"), pin("supply-")) else { continue };
            let (Some(first), Some(second)) = (volts(a, high), volts(a, low)) else { continue };
            if first >= second {
                continue;
            }
            let said = |x: f64| quantity::computed(x, Unit::Volt, Style::default()).unwrap_or_default();
            let name = &device.elem.name;
            let message = format!(
                "{name} is supplied the wrong way round: the positive rail comes first, and {} is at {}, {} at {}. Built so, it draws all that the supplies give and does not survive it.",
                high.text,
                said(first),
                low.text,
                said(second)
            );
            let place = Place { block: b as u32, entry: Some(e as u32), span: high.span };
            let title = format!("write supply {} {}", low.text, high.text);
            let edits = vec![(high.span, low.text.to_string()), (low.span, high.text.to_string())];
            let found = a.find(Weight::Error, place, "rails-exchanged", message, &[name, &high.text, &low.text]);
            found.fixes.push(Fix { title, edits });
        }
    }
}

/// The voltage that a rail is given, where it is known.
fn rail(a: &Assembly, node: NodeId) -> Option<f64> {
    a.circuit.supplies.iter().flat_map(|s| &s.rails).find(|r| r.0 == node)?.1.number()
}
