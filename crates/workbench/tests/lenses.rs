//! Where lenses stand and what they say.

mod said;

use said::bench;
use workbench::Lensed;

/// The lenses of a text: the line that each stands above, from 1, and what it says.
fn lenses(text: &str) -> Vec<String> {
    let snapshot = bench(text).snapshot();
    let one = |lens: workbench::Lens| {
        let line = text[..lens.range.start].matches('\n').count() + 1;
        assert!(!text[lens.range.clone()].contains('\n') && !lens.range.is_empty());
        let title = snapshot.lens_title("a", &lens.about).expect("it is about something");
        format!("{line}: {}{}", title.text, if title.waits { " (waits)" } else { "" })
    };
    snapshot.lenses("a").into_iter().map(one).collect()
}

#[test]
fn controls_tell_the_gain_at_their_ends() {
    // 1 + 1k/1k and 1 + 11k/1k; the switch stands across R3.
    let text = "stage amp: in -> out
  in -- R1 1M -- gnd
  U1a ideal: + in, - fb, out out
  out -- R2 1k -- VR1 10k -- fb
  fb -- R3 1k -- gnd
  fb -- SW1 open -- R4 1k -- gnd
";
    let vr1 = |share: f64| 20.0 * (1.0 + (1.0 + 10.0 * share) / 1.0_f64).log10();
    // At rest the control stands in the middle: 6k over 1k, and over 500 ohm with the switch closed.
    let sw1 = [1.0, 2.0].map(|g: f64| 20.0 * (1.0 + 6.0 * g).log10());
    let wanted = format!("1: VR1 {:.1} … {:.1} dB · SW1 {:.1}, {:.1} dB", vr1(0.0), vr1(1.0), sw1[0], sw1[1]);
    assert_eq!(lenses(text), ["1: derive".to_string(), wanted]);
}

#[test]
fn an_end_without_a_signal_says_so() {
    let text = "stage volume: in -> out\n  VR1 10k lin: cw in, wiper out, ccw gnd\n";
    assert_eq!(lenses(text), ["1: derive", "1: VR1 no signal … 0.0 dB"]);
}

#[test]
fn the_positions_of_a_switch_are_told_one_by_one() {
    let text = "stage pad: in -> out
  in -- R1 9k -- out
  SW1 at 1: pole out, 1 a, 2 b
  a -- R2 1k -- gnd
  b -- R3 9k -- gnd
";
    assert_eq!(lenses(text), ["1: derive", "1: SW1 −20.0, −6.0 dB"]);
}

#[test]
fn a_copy_has_lenses_of_its_own() {
    let text =
        "stage pad: in -> out\n  in -- VR1 10k -- out\n  out -- R1 10k -- gnd\n\nuse pad as far: out -> end\n  R1 1k\n";
    let all = lenses(text);
    assert_eq!(all.len(), 4, "{all:?}");
    assert!(all[3].starts_with("5: far.VR1 "), "{all:?}");
}

#[test]
fn the_design_tells_how_many_requirements_hold() {
    let text = |limit: &str| {
        format!(
            "design\n  band 20 Hz .. 20 kHz\n\nstage pad: in -> out\n  in -- R1 1k -- out\n  out -- R2 1k -- gnd\n\nrequire\n  gain in -> out = -6 dB ± 0.1 dB\n  gain in -> out {limit}\n"
        )
    };
    assert_eq!(lenses(&text("< 0 dB"))[0], "1: requirements held 2 of 2");
    assert_eq!(lenses(&text("< -10 dB"))[0], "1: requirements held 1 of 2: gain in -> out fails");
    assert_eq!(lenses(&text("at 1 kHz"))[0], "1: requirements held 1 of 1");
    assert_eq!(lenses(&text("< 0 dB").replace("R2 1k", "R2"))[0], "1: requirements held 0 of 2: 2 unknown");
    // Without a heading of the design it stands at the requirements.
    let bare = text("< 0 dB").replace("design\n  band 20 Hz .. 20 kHz\n\n", "");
    assert_eq!(lenses(&bare).last().map(String::as_str), Some("5: requirements held 2 of 2"));
}

#[test]
fn an_unfinished_line_makes_figures_wait() {
    let text = "stage volume: in -> out\n  VR1 10k lin: cw in, wiper out, ccw gnd\n  out -- R1\n";
    assert_eq!(lenses(text)[1], "1: unknown: line 3 is unfinished (waits)");
}

#[test]
fn a_lens_leads_to_a_page() {
    let text = "stage pad: in -> out\n  in -- R1 1k -- out\n  out -- R2 1k -- gnd\n\nrequire\n  gain in -> out < 0 dB\n  gain in -> out > 0 dB\n";
    let snapshot = bench(text).snapshot();
    let page = snapshot.lens_page("a", &Lensed::Working("pad".into())).expect("a page");
    assert!(page.markdown.contains("R2") && page.plain.contains("R2"), "{page:?}");
    let page = snapshot.lens_page("a", &Lensed::Requirements).expect("a page");
    assert_eq!(page.title, "requirements held 1 of 2: gain in -> out fails");
    let lines: Vec<&str> = page.plain.lines().skip(2).collect();
    assert!(lines[0].starts_with("  gain in -> out > 0 dB: −6.0 dB fails"), "{page:?}");
    assert!(lines[1].ends_with("(line 6)"), "{page:?}");
    assert_eq!(snapshot.lens_page("a", &Lensed::Working("owl".into())), None);
}

#[test]
fn half_a_text_has_lenses_too() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../../examples");
    for file in std::fs::read_dir(folder).expect("examples").flatten() {
        let Ok(text) = std::fs::read_to_string(file.path()) else { continue };
        for end in (0..text.len()).filter(|i| i % 97 == 0 && text.is_char_boundary(*i)) {
            let half = text[..end].replace('\n', "\r\n");
            for lens in bench(&half).snapshot().lenses("a") {
                assert!(half.get(lens.range).is_some_and(|line| !line.contains(['\r', '\n'])));
            }
        }
    }
}
