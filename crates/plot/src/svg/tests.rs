//! Pictures held against what any of them must keep to.

use proptest::prelude::*;
use quantity::Unit;

use super::width::width;
use super::{Sheet, Theme, svg};
use crate::clip::Rect;
use crate::data::{Axis, Band, Curve, Dash, Dot, Ends, Forbidden, Limit, Mark, Plot, Scale, Side};

/// The words of a picture with their places.
fn words(text: &str) -> (Rect, Vec<(Rect, String)>) {
    let document = roxmltree::Document::parse(text).expect("well-formed XML");
    let root = document.root_element();
    let number =
        |node: &roxmltree::Node, name: &str| -> f64 { node.attribute(name).unwrap_or("0").parse().expect("a number") };
    let sheet = Rect { x: 0.0, y: 0.0, w: number(&root, "width"), h: number(&root, "height") };
    let all = root.descendants().filter(|n| n.has_tag_name("text")).map(|n| {
        let (said, size) = (n.text().unwrap_or_default().to_string(), number(&n, "font-size"));
        let w = width(&said, size);
        let x = number(&n, "x")
            - match n.attribute("text-anchor") {
                Some("middle") => 0.5 * w,
                Some("end") => w,
                _ => 0.0,
            };
        // Capitals reach 0.73 of the size above the line (1,493 of 2,048 units for H), the deepest of `!` to `~` 0.24 below it (483 for
        // `_` and `|`): the outlines of DejaVu Sans, whose widths `width` has.
        (Rect { x, y: number(&n, "y") - 0.73 * size, w, h: 0.97 * size }, said)
    });
    let all = all.collect();
    (sheet, all)
}

/// What every picture keeps to: no words over each other, everything on the sheet, nothing from outside.
fn check(plot: &Plot, sheet: &Sheet) -> String {
    let text = svg(plot, sheet);
    assert_eq!(text, svg(plot, sheet), "equal data, equal bytes");
    let (edge, all) = words(&text);
    for (i, (rect, said)) in all.iter().enumerate() {
        assert!(edge.wider(0.5).holds(rect), "`{said}` leaves the sheet: {rect:?}\n{text}");
        for (other, beside) in &all[..i] {
            assert!(!rect.meets(other), "`{said}` stands on `{beside}`: {rect:?} {other:?}\n{text}");
        }
    }
    for outside in ["<script", "href", "@import", "url(", "@font-face", "NaN", "inf"] {
        assert!(!text.contains(outside) || plot_says(plot, outside), "{outside}\n{text}");
    }
    // Every place of a path lies on the sheet.
    let document = roxmltree::Document::parse(&text).unwrap();
    for node in document.descendants().filter(|n| n.has_tag_name("path")) {
        let d = node.attribute("d").unwrap_or_default();
        let numbers = d.split(|c: char| !(c.is_ascii_digit() || c == '.' || c == '-')).filter(|n| !n.is_empty());
        for n in numbers {
            let n: f64 = n.parse().expect("a number");
            assert!((-0.5..=edge.w.max(edge.h) + 0.5).contains(&n), "{n} in {d}");
        }
    }
    assert!(
        document.descendants().any(|n| n.has_tag_name("title"))
            && document.descendants().any(|n| n.has_tag_name("desc"))
    );
    text
}

fn plot_says(plot: &Plot, word: &str) -> bool {
    let names = plot.curves.iter().map(|c| &c.name).chain(plot.marks.iter().map(|m| &m.text)).chain([&plot.title]);
    names.chain(plot.limits.iter().map(|l| &l.name)).any(|n| n.contains(word))
}

fn family(names: &[&str]) -> Plot {
    let mut plot = Plot::new(Axis::frequency().from_to(1.0, 1e6), Axis::decibels("gain").deep(100.0));
    plot.title = "gain in -> out over VR1 & VR2 <both>".into();
    for (i, name) in names.iter().enumerate() {
        let level = 6.0 * i as f64;
        let at =
            |f: f64| (f, level - 10.0 * (1.0 + (7.2 / f).powi(2)).log10() - 10.0 * (1.0 + (f / 58e3).powi(2)).log10());
        let points = (0..=240).map(|k| at(10f64.powf(f64::from(k) / 40.0))).collect();
        let shade = Some(i as f64 / names.len().max(2) as f64);
        plot.curves.push(Curve { name: name.to_string(), points, shade, ..Curve::default() });
    }
    plot.marks.push(Mark { x: 7.2, y: -3.0, side: Side::Left, text: "7.2 Hz".into() });
    plot.marks.push(Mark { x: 58e3, y: -3.0, side: Side::Left, text: "58 kHz".into() });
    let limit = |from: f64, to: f64, at: f64, forbidden| Limit {
        over: (from, to),
        at,
        side: Side::Left,
        forbidden,
        name: format!("{at} dB"),
    };
    plot.limits.push(limit(20.0, 20e3, -1.0, Forbidden::Below));
    plot.limits.push(limit(1e3, 1e3, 30.0, Forbidden::Above));
    plot
}

#[test]
fn a_family_has_its_names_its_marks_and_its_limits() {
    let plot = family(&["VR1 0 %", "VR1 50 %", "VR1 100 %"]);
    let text = check(&plot, &Sheet::default());
    let (_, all) = words(&text);
    let said: Vec<&str> = all.iter().map(|w| &*w.1).collect();
    for wanted in
        ["VR1 0 %", "VR1 50 %", "VR1 100 %", "7.2 Hz", "58 kHz", "-1 dB", "30 dB", "1 kHz", "gain, dB", "frequency"]
    {
        assert!(said.contains(&wanted), "{wanted} in {said:?}");
    }
    assert!(text.contains("&amp; VR2 &lt;both&gt;"));
}

/// A sheet for which the figures at both edges are too wide is wider than was asked for.
#[test]
fn figures_at_both_edges_have_their_room() {
    let axis =
        |unit, scale, least| Axis { unit, scale, ends: Ends::Round { depth: None, least }, ..Axis::decibels("") };
    let left = axis(quantity::Unit::Decibel, Scale::Logarithmic, 10.0);
    let mut plot = Plot::new(Axis::frequency().from_to(1e-3, 1.5e-3), left);
    plot.right = Some(axis(quantity::Unit::VoltPerRootHertz, Scale::Linear, 0.0));
    plot.curves.push(Curve { points: vec![(1e-3, 45.3)], ..Curve::default() });
    plot.marks.push(Mark { x: 1e-3, y: 861_193_477.3, side: Side::Left, text: String::new() });
    check(&plot, &Sheet { width: 240.0, height: 200.0, ..Sheet::default() });
}

#[test]
fn colours_are_variables_for_the_reader_and_fixed_where_asked() {
    let plot = family(&["a", "b"]);
    let reader = check(&plot, &Sheet::default());
    assert!(reader.contains("prefers-color-scheme:dark") && reader.contains("var(--ink)"));
    // Each variable that is used has a value on either ground.
    for used in reader.split("var(").skip(1).filter_map(|rest| rest.split(')').next()) {
        assert_eq!(reader.matches(&format!("{used}:#")).count(), 2, "{used}");
    }
    for theme in [Theme::Light, Theme::Dark] {
        let fixed = check(&plot, &Sheet { theme, ..Sheet::default() });
        assert!(!fixed.contains("var(") && !fixed.contains("<style"));
    }
}

#[test]
fn a_notch_and_a_peak_reach_as_deep_and_as_high_as_they_are() {
    let mut plot = Plot::new(Axis::frequency().from_to(10.0, 1e3), Axis::decibels("gain"));
    let mut points: Vec<(f64, f64)> = (0..=20_000).map(|k| (10f64.powf(1.0 + f64::from(k) / 10_000.0), 0.0)).collect();
    points[4000].1 = 18.0;
    points[9000].1 = -37.0;
    plot.curves.push(Curve { points, ..Curve::default() });
    let text = check(&plot, &Sheet::default());
    // The axis goes from −40 to 20: the highest place and the lowest are a share of its height apart.
    let document = roxmltree::Document::parse(&text).unwrap();
    let group = document.descendants().find(|n| n.attribute("class") == Some("curves")).unwrap();
    let d = group.descendants().find_map(|n| n.attribute("d")).unwrap();
    let heights: Vec<f64> = d.split(['M', 'L']).filter_map(|p| p.split(' ').nth(1)?.parse().ok()).collect();
    let (top, bottom) = (heights.iter().copied().fold(f64::MAX, f64::min), heights.iter().copied().fold(0.0, f64::max));
    let frame = document.descendants().find(|n| n.attribute("class") == Some("axes")).unwrap();
    let outline = frame.descendants().find_map(|n| n.attribute("d")).unwrap();
    let edges: Vec<f64> = outline.split(['M', 'L', 'Z']).filter_map(|p| p.split(' ').nth(1)?.parse().ok()).collect();
    let high = edges.iter().copied().fold(0.0, f64::max) - edges.iter().copied().fold(f64::MAX, f64::min);
    assert!(((bottom - top) / high - 55.0 / 60.0).abs() < 0.01, "{top} {bottom} {high}");
    // And it is drawn with what the sheet can show, not with 20,001 points.
    assert!(heights.len() < 5_000, "{}", heights.len());
}

#[test]
fn places_with_long_names_stand_in_two_rows() {
    let mut x = Axis::new("", Unit::One, Scale::Linear).from_to(-0.3, 6.3);
    let names = ["hydrophone", "preamp.drive", "mirror", "cold_leg_out", "recorder_left", "line", "meter"];
    x.names = names.iter().enumerate().map(|(i, n)| (i as f64, n.to_string())).collect();
    let mut plot = Plot::new(x, Axis::new("level", Unit::Dbu, Scale::Linear));
    let points = (0..7).map(|i| (f64::from(i), -20.0 - f64::from(i))).collect();
    plot.curves.push(Curve { name: "noise".into(), points, dotted: true, ..Curve::default() });
    let (_, all) = words(&check(&plot, &Sheet { width: 480.0, ..Sheet::default() }));
    for name in names {
        assert!(all.iter().any(|w| w.1 == name), "{name}");
    }
}

#[test]
fn an_empty_plot_is_a_sheet_with_axes() {
    check(&Plot::new(Axis::frequency(), Axis::decibels("gain")), &Sheet::default());
    check(
        &Plot::new(Axis::frequency(), Axis::decibels("gain")),
        &Sheet { width: 0.0, height: 0.0, theme: Theme::Dark },
    );
}

fn name() -> impl Strategy<Value = String> {
    prop_oneof![
        Just(String::new()),
        "[A-Za-z0-9 %]{1,24}",
        Just("VR1 100 %, SW1 closed".to_string()),
        Just("Ω<&>\u{7}\"'".to_string())
    ]
}

fn value() -> impl Strategy<Value = f64> {
    prop_oneof![-120.0..60.0, Just(f64::NEG_INFINITY), Just(f64::NAN), Just(0.0), -1e9..1e9, 1e-12..1e-3]
}

fn axis() -> impl Strategy<Value = Axis> {
    let unit = prop::sample::select(vec![
        Unit::Decibel,
        Unit::Ohm,
        Unit::Degree,
        Unit::Volt,
        Unit::VoltPerRootHertz,
        Unit::One,
        Unit::Percent,
    ]);
    let scale = prop_oneof![Just(Scale::Linear), Just(Scale::Logarithmic)];
    (unit, scale, name()).prop_map(|(unit, scale, label)| Axis::new(&label, unit, scale))
}

prop_compose! {
    fn any_plot()(
        title in name(), right in prop::option::of(axis()), y in axis(),
        span in (1e-3..1e3, 1.5..1e9).prop_map(|(a, b)| (a, a * b)),
        curves in prop::collection::vec((name(), prop::collection::vec(value(), 0..60), any::<bool>(), 0usize..9), 0..9),
        marks in prop::collection::vec((0.0..1.0, value(), name()), 0..6),
        limits in prop::collection::vec((0.0..1.0, 0.0..1.0, value(), any::<bool>(), name()), 0..4),
        dots in prop::collection::vec((0.0..1.0, value(), name()), 0..3),
        notes in prop::collection::vec(name(), 0..3),
    ) -> Plot {
        let mut plot = Plot::new(Axis::frequency().from_to(span.0, span.1), y);
        let at = |share: f64| span.0 * (span.1 / span.0).powf(share);
        (plot.title, plot.right, plot.notes) = (title, right, notes);
        for (name, values, second, hue) in curves {
            let n = values.len().max(2) as f64 - 1.0;
            let points = values.iter().enumerate().map(|(k, v)| (at(k as f64 / n), *v)).collect();
            let side = if second { Side::Right } else { Side::Left };
            let dash = if second { Dash::Dashed } else { Dash::Solid };
            plot.curves.push(Curve { name, points, side, hue, dash, shade: Some(hue as f64 / 8.0), dotted: hue == 3 });
        }
        plot.marks = marks.into_iter().map(|(x, y, text)| Mark { x: at(x), y, side: Side::Left, text }).collect();
        let limit = |(a, b, y, up, name): (f64, f64, f64, bool, String)| Limit {
            over: (at(a.min(b)), at(a.max(b))), at: y, side: Side::Left, name,
            forbidden: if up { Forbidden::Above } else { Forbidden::Below },
        };
        plot.limits = limits.into_iter().map(limit).collect();
        plot.dots = dots.into_iter().map(|(x, y, text)| Dot { x: at(x), y, side: Side::Right, hue: 2, text }).collect();
        if let Some(c) = plot.curves.first() {
            let points = c.points.iter().map(|p| (p.0, p.1 - 1.0, p.1 + 1.0)).collect();
            plot.bands.push(Band { name: "1 %".into(), points, side: c.side, hue: c.hue });
        }
        plot
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 120, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_words_meet_and_nothing_leaves_the_sheet(plot in any_plot(), width in 240.0..1200.0f64, height in 200.0..800.0f64) {
        check(&plot, &Sheet { width, height, theme: Theme::Reader });
    }

    #[test]
    fn text_is_as_wide_and_as_high_as_asked(plot in any_plot(), columns in 24usize..120, rows in 5usize..40) {
        for glyphs in [crate::Glyphs::Braille, crate::Glyphs::Blocks, crate::Glyphs::Ascii] {
            let text = crate::text(&plot, columns, rows, glyphs);
            prop_assert_eq!(text.lines().count(), rows);
            for line in text.lines() {
                prop_assert_eq!(unicode_width::UnicodeWidthStr::width(line), columns, "{:?}", line);
                prop_assert!(glyphs != crate::Glyphs::Ascii || line.is_ascii(), "{:?}", line);
            }
        }
    }
}
