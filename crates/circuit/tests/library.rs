//! The embedded data sheets: each reads without a finding, and its figures hang together as those of a real amplifier do.

use std::collections::{BTreeMap, BTreeSet};
use std::f64::consts::TAU;

use circuit::library::{self, VOLUMES};
use circuit::piece::{self, PieceKind};
use circuit::{Figure, Weight};
use notation::tree::{BlockKind, Heading};

/// A sheet as its entries give it: figures in SI units by their words. An open-loop gain is a ratio.
struct Sheet {
    name: String,
    description: String,
    data: BTreeMap<String, Figure>,
}

impl Sheet {
    fn figure(&self, words: &str) -> Option<Figure> {
        self.data.get(words).cloned()
    }
    fn typical(&self, words: &str) -> Option<f64> {
        self.figure(words).and_then(|f| f.typical)
    }
    fn must(&self, words: &str) -> f64 {
        self.typical(words).unwrap_or_else(|| panic!("{} has no typical {words}", self.name))
    }
}

/// Reads every block of the library and lets no finding pass.
fn sheets() -> Vec<Sheet> {
    let mut found = Vec::new();
    for volume in VOLUMES {
        let text = volume.text;
        let layout = notation::layout::lay_out(text);
        assert!(layout.faults.is_empty(), "{}: {:?}", volume.file, layout.faults);
        for block in &layout.blocks {
            let chunk = block.heading.as_ref().unwrap_or_else(|| panic!("{} begins with an entry", volume.file));
            assert_eq!(chunk.fault, None, "{}", volume.file);
            let heading = notation::read_heading(&text[chunk.range.clone()]);
            assert_eq!(heading.fault, None, "{}", volume.file);
            let Heading::Datasheet { name: Some(name), kind: Some(kind) } = &heading.tree else {
                panic!("{}: {:?} is no data sheet", volume.file, &text[chunk.range.clone()])
            };
            assert_eq!(&*kind.text, "opamp", "{}", name.text);
            let mut data = BTreeMap::new();
            for entry in &block.entries {
                let said = &text[entry.range.clone()];
                assert_eq!(entry.fault, None, "{}: {said}", name.text);
                let piece = piece::read(&notation::read_entry(BlockKind::Datasheet, said));
                let findings: Vec<&(Weight, _)> = piece.findings.iter().collect();
                assert!(findings.is_empty(), "{}: {said}: {findings:?}", name.text);
                let PieceKind::Datum(d) = piece.kind else { panic!("{}: {said} gives no datum", name.text) };
                assert!(data.insert(d.words.to_string(), d.figure).is_none(), "{} gives {} twice", name.text, d.words);
            }
            let description = chunk.description.clone().map_or(String::new(), |r| text[r].to_string());
            found.push(Sheet { name: name.text.to_string(), description, data });
        }
    }
    found
}

#[test]
fn every_sheet_reads_without_a_finding_under_a_name_of_its_own() {
    let sheets = sheets();
    let names: BTreeSet<&str> = sheets.iter().map(|s| &*s.name).collect();
    assert_eq!(names.len(), sheets.len(), "a name stands twice");
    assert_eq!(names, library::names().collect(), "what the library hands out is what stands in its files");
    for wanted in
        ["general_dual", "lownoise_dual", "fet_dual", "lowpower_dual", "rail_dual", "audio_dual", "lownoise_fast_dual"]
    {
        assert!(names.contains(wanted), "no {wanted}");
    }
    for wanted in ["741", "4558", "lm358", "lm324", "ne5532", "ne5534", "tl072", "tl081", "tl062", "op07", "op27"] {
        assert!(names.contains(wanted), "no {wanted}");
    }
}

/// Nobody may take a figure of the library for a measured one.
#[test]
fn every_sheet_says_where_its_figures_come_from() {
    for s in sheets() {
        // Comment lines are wrapped.
        let said = s.description.replace("\n#", "");
        assert!(said.contains("heck your maker's data sheet"), "{} does not send its reader to a data sheet", s.name);
        assert!(said.contains("rom memory"), "{} does not say what is from memory", s.name);
    }
}

#[test]
fn the_way_to_a_sheet_leads_to_its_heading() {
    for name in library::names() {
        let origin = library::origin(name).expect("each name has a place");
        assert_eq!(&origin.volume.text[origin.heading.clone()], format!("datasheet {name}: opamp"));
        assert_eq!(&origin.volume.text[origin.name], name);
        let above = &origin.volume.text[origin.description.expect("each sheet is described")];
        assert!(above.starts_with('#'), "{name}: {above}");
    }
    assert_eq!(library::origin("ideal"), None, "the ideal amplifier has no sheet");
}

#[test]
fn minimum_typical_and_maximum_stand_in_their_order() {
    for s in sheets() {
        for (words, f) in &s.data {
            for (low, high) in [(f.min, f.typical), (f.typical, f.max), (f.min, f.max)] {
                if let (Some(low), Some(high)) = (low, high) {
                    assert!(low <= high, "{}: {words} goes from {low} to {high}", s.name);
                }
            }
            assert!(f.typical.is_some() || (f.min.is_some() && f.max.is_some()), "{}: {words} has no middle", s.name);
        }
    }
}

/// What readings need is there: without it they would be unknown for an amplifier out of the library.
#[test]
fn no_sheet_lacks_what_a_reading_needs() {
    for s in sheets() {
        for words in [
            "gain bandwidth",
            "open loop gain",
            "slew rate",
            "voltage noise",
            "current noise",
            "input offset",
            "input bias",
            "input range from low rail",
            "input range from high rail",
            "output current",
            "output resistance",
            "input capacitance",
            "supply current",
        ] {
            assert!(s.must(words) >= 0.0, "{}: {words}", s.name);
        }
        assert!(s.figure("supply range").is_some_and(|f| f.min.is_some() && f.max.is_some()), "{}", s.name);
        let both = s.typical("swing from rails").is_some();
        let each = s.typical("swing from high rail").is_some() && s.typical("swing from low rail").is_some();
        assert!(both != each, "{} gives its swing from both rails or from each", s.name);
        // 1/f noise is a property of the inputs: of bipolar ones the current's too.
        if s.must("current noise") > 0.1e-12 {
            assert!(s.typical("current noise corner").is_some(), "{} has no current noise corner", s.name);
        }
    }
}

/// An amplifier with one pole loses its gain from the pole f1 on, A0 · f1 = gain bandwidth. Real poles lie between a fraction of a
/// hertz and some kilohertz (common practice, no source).
#[test]
fn gain_and_bandwidth_make_a_plausible_first_pole() {
    for s in sheets() {
        let pole = s.must("gain bandwidth") / s.must("open loop gain");
        assert!((0.1..20e3).contains(&pole), "{}: first pole at {pole} Hz", s.name);
        assert!((1e3..1e8).contains(&s.must("open loop gain")), "{}", s.name);
    }
}

/// The input pair's current charges the compensation: slew rate = 2π · unity gain · V, where V is the input pair's linear range:
/// about 2 kT/q = 52 mV for a bipolar pair, more with emitter resistors, up to a few volts for field-effect pairs
/// (Gray and Meyer, Analysis and Design of Analog Integrated Circuits, the chapter on slew rate; from memory).
/// A decompensated amplifier is compared at its smallest gain's bandwidth.
#[test]
fn slew_rate_and_bandwidth_belong_to_one_input_pair() {
    for s in sheets() {
        let gain = s.typical("minimum gain").unwrap_or(1.0);
        let range = s.must("slew rate") / (TAU * s.must("gain bandwidth") / gain);
        assert!((0.03..3.0).contains(&range), "{}: the input pair would be linear over {range} V", s.name);
    }
}

/// No resistor's noise is below that of 10 Ω, and a bipolar base current i carries at least the shot noise √(2qi)
/// (Schottky's formula; q = 1.602e-19 C). Bias cancellation makes the noise larger than the visible bias current tells, never smaller.
#[test]
fn noise_is_not_below_what_physics_allows() {
    for s in sheets() {
        let density = s.must("voltage noise");
        assert!((0.4e-9..200e-9).contains(&density), "{}: {density} V/√Hz", s.name);
        let shot = (2.0 * 1.602e-19 * s.must("input bias")).sqrt();
        let current = s.must("current noise");
        assert!(current >= 0.5 * shot, "{}: {current} A/√Hz is far below the shot noise {shot} of its bias", s.name);
    }
}

/// The smallest supply leaves room for the inputs and the output as they typically are, and nothing needs more than 60 V.
#[test]
fn supplies_leave_room_for_signals() {
    for s in sheets() {
        let range = s.figure("supply range").expect("tested above");
        let (least, most) = (range.min.expect("tested above"), range.max.expect("tested above"));
        assert!(least >= 1.0 && most <= 60.0 && least < most, "{}: {least} V to {most} V", s.name);
        let swing = match s.typical("swing from rails") {
            Some(v) => 2.0 * v,
            None => s.must("swing from high rail") + s.must("swing from low rail"),
        };
        let inputs = s.must("input range from low rail") + s.must("input range from high rail");
        assert!(swing < least, "{}: nothing is left of {least} V once {swing} V are lost", s.name);
        assert!(inputs < least, "{}: no input voltage fits into {least} V", s.name);
        let supply = s.must("supply current");
        assert!((1e-6..20e-3).contains(&supply), "{}: {supply} A of supply current for one amplifier", s.name);
        let output = s.must("output current");
        assert!((1e-3..0.2).contains(&output), "{}: {output} A of output current", s.name);
    }
}

/// Faster amplifiers take more current; a figure out of place by a prefix shows here. Hertz of bandwidth for one ampere of supply.
#[test]
fn bandwidth_is_paid_for_in_supply_current() {
    for s in sheets() {
        let price = s.must("gain bandwidth") / s.must("supply current");
        assert!((1e8..1e11).contains(&price), "{}: {price} Hz/A", s.name);
    }
}
