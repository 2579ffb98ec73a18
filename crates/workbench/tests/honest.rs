//! Designs with a flaw in them: what hangs on the flaw is unknown with its name, what does not keeps its figure.

mod said;

use said::{bench, divider, hints, read, rules};

#[test]
fn branches_of_no_resistance_side_by_side_settle_every_voltage() {
    let text = "stage mute: in -> out
  in -- R1 10k -- a
  VR1 10k lin: cw a, wiper w, ccw gnd
  w -- SW1 closed -- gnd
  w -- R2 1k -- out
  out -- R3 10k -- gnd
";
    // At 0 % the lower half of VR1 and the switch share a current that nothing settles; no voltage hangs on how.
    assert!(hints(text).starts_with("1: no signal … −10.1 dB over VR1, SW1 · Zin 10 … 20 kΩ over VR1, SW1\n"));
}

#[test]
fn a_datum_that_cannot_be_read_is_not_taken_for_ideal() {
    let sheet = |line: &str| {
        hints(&format!(
            "datasheet weak: opamp\n  {line}\n  gain bandwidth 1 MHz\n\nstage follower: in -> out\n  U1 weak: + in, - out, out out\n  in -- R1 10k -- gnd\n"
        ))
    };
    assert!(sheet("open loop gain 100 dB").starts_with("5: 0.0 dB"), "{}", sheet("open loop gain 100 dB"));
    for line in ["open loop gain 100 db", "open loop gain 100 V", "open lop gain 100 dB", "open loop gain -3 V"] {
        let said = sheet(line);
        assert!(said.starts_with("5: unknown: weak's open loop gain cannot be read"), "{line}: {said}");
    }
}

#[test]
fn what_hangs_on_an_amplifier_without_feedback_is_unknown() {
    let text = "stage amp: in -> out
  U1: + in, - gnd, out ao
  in -- R1 10k -- out
  ao -- R90 1k -- out
  out -- R2 10k -- gnd

stage beside: in -> far
  in -- R5 10k -- far
  far -- R6 10k -- gnd
";
    let said = hints(text);
    assert!(said.contains("1: unknown: U1"), "{said}");
    assert!(said.contains("7: −6.0 dB"), "{said}");
}

#[test]
fn a_part_that_stands_twice_has_no_value() {
    let said = hints("stage a: in -> out\n  in -- R1 1k -- out\n  out -- R1 1k -- gnd\n");
    assert_eq!(said, "1: unknown: two parts are called R1\n");
}

#[test]
fn no_value_is_worked_out_of_an_expression_with_an_error_in_it() {
    for value in
        ["(2*R8", "(2 3 kohm)", "(max(1 kohm))", "(2 R8)", "(2 kohm ^ 1 ^ 1)", "(R8 – 1 ohm)", "(R1 || R8 * 2)", "-5k"]
    {
        let text = divider(&format!("R5 {value}"));
        assert_eq!(read(&text, "gain in -> out"), "unknown: R5's value cannot be read", "{value}");
        assert_eq!(read(&text, "gain in -> far"), "−6.0 dB", "{value}");
        assert_eq!(rules(&text).len(), 1, "{value}");
    }
    for value in ["1 .. 2", "3 ± 0.1", "(2)(3)", "3 4", "2*(3", "min(3)"] {
        let text = format!("let\n  x = {value}\n\n{}", divider("R5 (x * 1 kohm)"));
        assert_eq!(read(&text, "gain in -> out"), "unknown: x cannot be read", "{value}");
        assert_eq!(rules(&text).len(), 1, "{value}");
    }
}

#[test]
fn what_stands_behind_a_figure_of_the_design_makes_it_doubtful() {
    let with = |entry: &str| format!("design\n  {entry}\n\n{}", divider("R5 1k"));
    for (entry, phrase, why) in [
        ("band 20 Hz .. 20 kHzz", "gain in -> out", "unknown: the band cannot be read"),
        ("band (2 20 Hz) .. 20 kHz", "gain in -> out", "unknown: the band cannot be read"),
        ("reference 1 kHz 2", "gain in -> out", "unknown: the reference cannot be read"),
        ("source in 5 mV loud", "level of out", "unknown: in's source has no readable level"),
        ("temperature (2 3)", "noise of out", "unknown: the temperature cannot be read"),
    ] {
        assert_eq!(read(&with(entry), phrase), why, "{entry}");
    }
    // A quantity that has to be guessed at is not answered, and neither is a limit held against it.
    let asked = |statement: &str| hints(&format!("{}\nrequire\n  {statement}\n", divider("R5 1k")));
    let unknown = |why: &str| format!("10: unknown: {why}\n");
    assert!(asked("gain in -> out over 20 Hz – 20 kHz < 3 dB").contains(&unknown("its quantity cannot be read")));
    assert!(asked("gain in -> out =< 3 dB").contains(&unknown("its limit cannot be read")));
    assert!(asked("gain in -> out < 3 dB < 4 dB").contains(&unknown("its limit cannot be read")));
}

#[test]
fn a_copy_does_not_fall_back_on_its_pattern() {
    let copied = |entries: &str| format!("{}\nuse pad as second: far -> end\n{entries}", divider("R5 1k"));
    for (entries, why) in [
        ("  R1\n", "unknown: R1 has no value"),
        ("  R1 4,7k\n", "unknown: R1 has no value"),
        ("  R1 (2 3 kohm)\n", "unknown: second.R1's value cannot be read"),
        ("  R1 2k\n  R1 3k\n", "unknown: R1 is replaced twice"),
    ] {
        assert_eq!(read(&copied(entries), "gain far -> end"), why, "{entries}");
        assert_eq!(read(&copied(entries), "gain in -> out"), "−6.0 dB", "{entries}");
        assert_eq!(rules(&copied(entries)).len(), 1, "{entries}");
    }
    assert_eq!(read(&copied("  R1 3k\n"), "gain far -> end"), "−12.0 dB");
}

#[test]
fn a_control_that_rests_nowhere_has_no_value() {
    for (part, why) in [
        ("VR1 10k lin at 150 %", "where VR1 rests cannot be read"),
        ("VR1 10k lin at 50", "where VR1 rests cannot be read"),
        ("VR1 10k at 20 % at 30 %", "VR1 rests at two places"),
        ("VR1 10k lin log", "VR1 has two tapers"),
        ("VR1 10k log0", "an attribute of VR1 cannot be read"),
        ("SW2", "SW2 is neither open nor closed"),
        ("SW2 open closed", "SW2 rests at two places"),
        ("SW2 at 2", "SW2 has no position 2"),
        ("SW2 at 50 %", "where SW2 rests cannot be read"),
        ("R5 1k external unfitted", "R5 is external and unfitted at once"),
        ("R5 1k unfittd", "an attribute of R5 cannot be read"),
    ] {
        let text = divider(part);
        assert_eq!(read(&text, "gain in -> out"), format!("unknown: {why}"), "{part}");
        assert_eq!(read(&text, "gain in -> far"), "−6.0 dB", "{part}");
        assert_eq!(rules(&text).len(), 1, "{part}");
    }
    // What is said twice and is the same both times is one too many, and no less known.
    for part in
        ["VR1 10k lin lin", "VR1 10k at 50 % at 50 %", "R5 1k 1% 5%", "R5 1k 0.25W 1W", "R5 1k film film", "R5 1k open"]
    {
        assert_eq!(rules(&divider(part)).len(), 1, "{part}");
        assert!(!read(&divider(part), "gain in -> out").starts_with("unknown"), "{part}");
    }
    // One unit of a gang speaks for both.
    let gang = |second: &str| {
        format!(
            "stage pad: in -> out\n  in -- SW1a open -- R1 1k -- out\n  out -- R2 1k -- gnd\n  in -- SW1b{second} -- R3 1k -- out\n"
        )
    };
    assert_eq!(rules(&gang("")), [] as [&str; 0]);
    assert_eq!(read(&gang(" closed"), "gain in -> out"), "unknown: SW1 rests at two places");
}

#[test]
fn a_rail_has_one_voltage() {
    let with = |supplies: &str| {
        format!("design\n{supplies}\nstage tap: in -> out\n  in -- R1 1k -- out\n  out -- R2 1k -- vp\n")
    };
    assert_eq!(read(&with("  supply vp 12 V\n"), "dc of out"), "6 V");
    for twice in ["  supply vp 12 V, vp 9 V\n", "  supply vp 12 V\n  supply vp 9 V\n"] {
        assert_eq!(read(&with(twice), "dc of out"), "unknown: vp is supplied twice");
        assert_eq!(read(&with(twice), "gain in -> out"), "−6.0 dB");
        assert_eq!(rules(&with(twice)), ["repeated-rail"]);
    }
    assert_eq!(rules(&with("  supply vp 12 V\n  supply gnd 3 V\n")), ["gnd-supplied"]);
}

#[test]
fn a_rails_own_ripple_drives() {
    let text = "design\n  supply vp 12 V\n  source in 1 V\n\nstage tap: in -> out\n  in -- R1 1k -- out\n  out -- R2 1k -- vp\n  out -- C1 100n -- gnd\n";
    // R1 and C1 in parallel under R2, every source quiet: 0.5 at DC, 3.01 dB down at 1/(2π·500 Ω·100 nF) = 3183 Hz.
    assert_eq!(read(text, "gain vp -> out at 1 Hz"), "−6.0 dB");
    assert_eq!(read(text, "gain vp -> out at 3183.1 Hz"), "−9.0 dB");
    assert_eq!(read(text, "phase vp -> out at 3183.1 Hz"), "−45°");
    assert_eq!(read(text, "gain in -> out at 1 Hz"), "−6.0 dB");
    assert!(read(text, "gain vp -> out from in").contains("which in does not drive"));
}

/// An inverting stage with a preset for its feedback, and a divider beside it.
fn inverting(trim: &str) -> String {
    format!(
        "design\n{trim}\nstage amp: in -> out\n  in -- R1 1k -- m\n  U1 ideal: + gnd, - m, out out\n  m -- VR1 20k -- out\n\nstage beside: in -> far\n  in -- R8 1k -- far\n  far -- R9 1k -- gnd\n"
    )
}

#[test]
fn a_trims_ratio_has_its_sign() {
    let minus = inverting("  trim VR1: gain in -> out = -10\n");
    assert_eq!((read(&minus, "gain in -> out").as_str(), rules(&minus).len()), ("20.0 dB", 0));
    assert_eq!(read(&inverting("  trim VR1: gain in -> out = 20 dB\n"), "gain in -> out"), "20.0 dB");
    let plus = inverting("  trim VR1: gain in -> out = 10\n");
    assert_eq!(read(&plus, "gain in -> out"), "unknown: VR1 cannot be trimmed");
    assert_eq!(rules(&plus), ["trim-unreached"]);
}

#[test]
fn trims_that_act_on_each_other_hold_together_or_are_unknown() {
    let text = |b: &str| {
        format!(
            "design\n  trim VR1: gain in -> out = -6 dB\n  trim VR2: {b}\n\nstage pad: in -> out\n  in -- VR1 10k -- a -- R1 1k -- out\n  out -- VR2 10k -- R2 1k -- gnd\n"
        )
    };
    // Both hold where the lower half is 12 kΩ·10^(−6/20) = 6.014 kΩ.
    let both = text("input impedance of pad = 12 kohm");
    assert_eq!(rules(&both), [] as [&str; 0]);
    let hinted = hints(&both);
    assert!(hinted.contains("2: set to 49.9 % (4.99 kΩ)\n3: set to 50.1 % (5.01 kΩ)\n"), "{hinted}");
    assert_eq!(read(&both, "impedance of in"), "12 kΩ");
    // No two places of the controls give two gains at once.
    let apart = text("gain in -> out = -10 dB");
    assert!(read(&apart, "gain in -> out").starts_with("unknown: VR"), "{}", hints(&apart));
    assert!(rules(&apart).iter().all(|r| r.starts_with("trim-un")) && !rules(&apart).is_empty());
}

#[test]
fn a_trim_that_cannot_be_made_costs_only_what_hangs_on_it() {
    for (trim, why, told) in [
        ("trim VR1: gain in -> out = 20 dBx", "what VR1 is trimmed to cannot be read", 1),
        ("trim VR1: gain in -> out = (2 3 dB)", "what VR1 is trimmed to cannot be read", 1),
        ("trim VR1:", "what VR1 is trimmed by is not written", 1),
        ("trim VR1: q of amp = 1", "VR1 cannot be trimmed", 1),
        ("trim VR1: gain in -> out = 1 dB\n  trim VR1: gain in -> out = 2 dB", "VR1 is trimmed twice", 1),
    ] {
        let text = inverting(&format!("  {trim}\n"));
        if trim != "trim VR1:" {
            assert_eq!(read(&text, "gain in -> out"), format!("unknown: {why}"), "{trim}");
            assert_eq!(read(&text, "gain in -> far"), "−6.0 dB", "{trim}");
        }
        assert_eq!(rules(&text).len(), told, "{trim}");
    }
    let copied = format!("{}\nuse amp as second: far -> end\n", inverting("  trim all VR1: gain in -> out = 20 dB\n"));
    assert_eq!(rules(&copied), ["trim-of-all"]);
    assert!(read(&copied, "gain far -> end").starts_with("unknown: VR1 and its copies"), "{}", hints(&copied));
}

#[test]
fn nothing_but_its_trim_moves_a_preset() {
    let text = inverting("  trim VR1: gain in -> out = 20 dB\n  setting low: VR1 0 %\n");
    assert_eq!(rules(&text), ["preset-set"]);
    for phrase in ["gain in -> out", "gain in -> out when low"] {
        assert_eq!(read(&text, phrase), "unknown: VR1 is set by low and by a trim");
    }
    assert_eq!(read(&text, "gain in -> far when low"), "−6.0 dB");
    let text = inverting("  trim VR1: gain in -> out = 20 dB\n");
    assert!(read(&text, "gain in -> out when VR1 10 %").starts_with("wrong: VR1 is a preset"));
}

#[test]
fn a_setting_without_a_readable_position_costs_what_examines_it() {
    for position in ["VR1 101 %", "VR1 50", "VR1 half", "VR1", "VR1 (2 3)"] {
        let text = format!("design\n  setting loud: {position}\n\n{}", divider("VR1 10k"));
        for phrase in ["gain in -> out", "gain in -> out when loud"] {
            assert_eq!(read(&text, phrase), "unknown: where loud puts VR1 cannot be read", "{position}");
        }
        assert_eq!(read(&text, "gain in -> out when VR1 50 %"), "−1.6 dB", "{position}");
        assert_eq!(read(&text, "gain in -> far"), "−6.0 dB", "{position}");
        assert_eq!(rules(&text).len(), 1, "{position}");
    }
    let text = divider("VR1 10k");
    for (phrase, said) in [
        ("VR1 101 %", "wrong: VR1 turns from 0 % (fully anticlockwise) to 100 %"),
        ("VR1 -1 %", "wrong: VR1 turns from 0 % (fully anticlockwise) to 100 %"),
        ("VR1 50", "wrong: 50 of what? %."),
    ] {
        assert_eq!(read(&text, &format!("gain in -> out when {phrase}")), said);
    }
    let switched = divider("SW2 open -- R5 1k");
    assert!(read(&switched, "gain in -> out when SW2 50 %").starts_with("wrong: SW2 stands at a position's number"));
}

#[test]
fn a_concession_has_a_reason_and_either_spelling() {
    let with = |entry: &str| {
        format!(
            "design\n  {entry}\n\nstage pass: in -> out\n  in -- C1 1u -- a -- C2 1u -- out\n  out -- R1 1k -- gnd\n"
        )
    };
    for spelt in ["no dc path", "no-dc-path"] {
        assert_eq!(rules(&with(&format!("accept {spelt} for a: \"a plate\""))), [] as [&str; 0]);
        for empty in ["\"\"", "\"  \""] {
            let text = with(&format!("accept {spelt} for a: {empty}"));
            assert_eq!(rules(&text), ["reason-missing", "no-dc-path"], "{empty}");
        }
    }
    assert_eq!(rules(&with("accept unstable for a: \"it is meant to ring\"")), ["no-dc-path"]);
}

#[test]
fn a_circle_of_values_is_told_once() {
    let text = format!("let\n  a = b + 1\n  b = c * 2\n  c = a\n  d = a + 1\n\n{}", divider("R5 (a * 1 kohm)"));
    let problems = bench(&text).snapshot().problems("a");
    let said: Vec<_> = problems.iter().map(|p| (p.id, p.message.as_str())).collect();
    let told = "a, b and c are worked out from each other, so none of them has a value.";
    assert_eq!(said, [("value-of-itself", told)]);
    assert_eq!(read(&text, "gain in -> out"), "unknown: a's value is worked out from itself");
}

#[test]
fn let_names_print_as_all_values_do() {
    let said =
        hints("let\n  mild = 25 degC\n  slope = 6.28 * 1 V/us / 1 A\n  flux = 3 V * 2 ms\n  square = (3 kV) ^ 2\n");
    assert_eq!(said, "2: 25 °C\n3: 6.28 MΩ/s\n4: 6 mV·s\n5: 9e6 V²\n");
    let warm = "let\n  mild = 30 degC\n\ndesign\n  temperature (mild)\n\nstage hiss: in -> out\n  in -- R1 1k -- out\n  out -- R2 1k -- gnd\n";
    assert_eq!(rules(warm), [] as [&str; 0]);
}

#[test]
fn what_is_too_far_out_to_be_computed_is_no_zero() {
    let highpass = "stage pass: in -> out\n  in -- C1 1n -- out\n  out -- R1 1k -- gnd\n";
    for far in ["1e160 Hz", "1e300 Hz", "1e-300 Hz"] {
        let said = read(highpass, &format!("gain in -> out at {far}"));
        assert!(said.starts_with("wrong: this lies beyond what is computed"), "{far}: {said}");
    }
    assert_eq!(read(highpass, "gain in -> out at 1e15 Hz"), "0.0 dB");
    assert_eq!(read(&divider("R5 (1e300 * 1 ohm)"), "gain in -> out"), "unknown: R5 comes to a value that no part has");
    assert_eq!(hints("let\n  x = 1e-300 / 1e300\n"), "2: unknown: x cannot be worked out\n");
    assert_eq!(hints("let\n  x = 0 / 1e300\n"), "2: 0\n");
}

#[test]
fn a_node_at_which_nothing_is_fitted_is_told_so() {
    let trap = divider("R5 1k") + "  far -- R7 1k unfitted -- trap\n  trap -- C1 1n unfitted -- gnd\n";
    assert_eq!(rules(&trap), ["only-unfitted"]);
    assert_eq!(read(&trap, "gain in -> trap"), "unknown: nothing is fitted at trap");
    let input = divider("R5 1k") + "  U1 tl072: + y, - z, out z\n  z -- R6 1k -- gnd\n  y -- R7 1k unfitted -- gnd\n";
    let problems = bench(&input).snapshot().problems("a");
    let messages: Vec<&str> =
        problems.iter().filter(|p| p.severity > workbench::Severity::Note).map(|p| p.message.as_str()).collect();
    assert_eq!(
        messages,
        ["U1's + input stands at y, where nothing else is fitted (not R7): its voltage is not determined. Connect y."]
    );
}

#[test]
fn what_is_given_twice_is_not_known() {
    let with = |entries: &str| format!("design\n{entries}\n{}", divider("R5 1k"));
    for (entries, phrase, why) in [
        ("  band 20 Hz .. 20 kHz\n  band 30 Hz .. 10 kHz\n", "gain in -> out", "the band is given twice"),
        ("  reference 1 kHz\n  reference 2 kHz\n", "gain in -> out", "the reference is given twice"),
        ("  temperature 20 degC\n  temperature 30 degC\n", "noise of out", "the temperature cannot be read"),
        ("  source in 1 V\n  source in 2 V\n", "level of out", "in has two sources"),
        ("  source in 1 V\n  source in 2 mA\n", "gain in -> out", "in has two sources"),
        (
            "  balanced pair: out, far\n  balanced pair: far, out\n",
            "gain in -> pair",
            "there are two pairs called pair",
        ),
        (
            "  setting loud: VR1 0 %\n  setting loud: VR1 100 %\n",
            "gain in -> out when loud",
            "there are two settings called loud",
        ),
    ] {
        let text = if entries.contains("VR1") { with(entries).replace("R5 1k", "VR1 1k") } else { with(entries) };
        let said = read(&text, phrase);
        assert!(said.starts_with(&format!("unknown: {why}")), "{entries}: {said}");
        assert_eq!(rules(&text).len(), 1, "{entries}");
    }
    let twice = format!("let\n  x = 1\n  x = 2\n\n{}", divider("R5 (x * 1 kohm)"));
    assert_eq!(read(&twice, "gain in -> out"), "unknown: x is given two values");
    assert_eq!(rules(&twice), ["repeated-name"]);
    let sheets = "datasheet wren: opamp\n  gain bandwidth 1 MHz\n\ndatasheet wren: opamp\n  gain bandwidth 2 MHz\n\nstage follower: in -> out\n  U1 wren: + in, - out, out out\n  in -- R1 1k -- gnd\n";
    assert_eq!(read(sheets, "gain in -> out"), "unknown: there are two data sheets called wren");
    let untyped = "stage follower: in -> out\n  U1 4,7: + in, - out, out out\n  in -- R1 1k -- gnd\n";
    assert_eq!(read(untyped, "gain in -> out"), "unknown: U1's type cannot be read");
    assert!(!hints(untyped).contains("ideal"), "{}", hints(untyped));
}

/// Decibels add up, move a level, and keep their own minus: nothing of it is worked out on ratios.
#[test]
fn decibels_in_expressions_are_decibels() {
    let text = |limit: &str| {
        format!(
            "design\n  source in (-20 dBu)\nlet\n  down = -6 dB\n  less = 20 dB - 26 dB\n  low = 4 dBu - 10 dB\n  odd = 1 + 20 dB\n\n\
             stage half: in -> out\n  in -- R1 1k -- out\n  out -- R2 1k -- gnd\n\nrequire\n  gain in -> out {limit}\n"
        )
    };
    let said = hints(&text("< (-3 dB)"));
    for line in [
        "−20.0 dBu (77.5 mV)",
        "×0.501 (−6.0 dB)",
        "−6.0 dBu (388 mV)",
        "unknown: odd cannot be worked out",
        "−6.0 dB holds, 3.0 dB to spare",
    ] {
        assert!(said.contains(line), "{line} in {said}");
    }
    assert_eq!(rules(&text("< (-3 dB)")), ["dimensions-differ"]);
    assert_eq!(rules(&text("> (-3 dB)")), ["dimensions-differ", "requirement-fails"]);
    assert_eq!(rules(&text("= (-6 dB) ± 0.1 dB")), ["dimensions-differ"]);
}

/// Decibels take plain factors and nothing else that could be meant in two ways; by its name a gain is the ratio.
#[test]
fn decibels_are_multiplied_by_plain_numbers_alone() {
    let text = |value: &str| {
        format!(
            "let\n  g = 20 dB\n  x = {value}\n\nstage half: in -> out\n  in -- R1 1k -- out\n  out -- R2 1k -- gnd\n"
        )
    };
    for (value, said) in [
        ("2 * 20 dB", "×100 (40.0 dB)"),
        ("(20 dB - 6 dB) / 2", "×2.24 (7.0 dB)"),
        ("-(20 dB)", "×0.100 (−20.0 dB)"),
        ("abs(-6 dB)", "×2.00 (6.0 dB)"),
        ("max(20 dB, 6 dB)", "×10.0 (20.0 dB)"),
        ("(20 dB)^2", "×100 (40.0 dB)"),
        ("10 kohm * 20 dB", "100 kΩ"),
        ("4 dBu + 20 dB", "24.0 dBu (12.3 V)"),
        ("0 dBu * 0 dBu / 600 ohm", "1 mW"),
        ("g - 1", "9"),
    ] {
        let hints = hints(&text(value));
        assert!(hints.contains(&format!("3: {said}")), "{value}: {hints}");
        assert_eq!(rules(&text(value)), [""; 0], "{value}");
    }
    for value in [
        "10^(20 dB/20)",
        "1 / 20 dB",
        "6 dB * 6 dB",
        "12 dB / 6 dB",
        "2 * 4 dBu",
        "log10(6 dB)",
        "max(6 dB, 2)",
        "1 + 6 dB",
        "6 dB || 6 dB",
    ] {
        assert_eq!(rules(&text(value)), ["dimensions-differ"], "{value}");
    }
    let limited = |limit: &str| format!("{}\nrequire\n  gain in -> out {limit}\n", text("1"));
    assert_eq!(rules(&limited("> (2 * -3.5 dB)")), [""; 0]);
    assert_eq!(rules(&limited("> (-3 dB - 2 dB)")), ["requirement-fails"]);
    assert_eq!(rules(&limited("= (2 * -3 dB) ± 0.1 dB")), [""; 0]);
}

#[test]
fn a_value_without_its_expression_is_declared_all_the_same() {
    for torn in ["c0 =", "c0 10 nF", "c0"] {
        let text = format!(
            "let\n  {torn}\n\nstage lag: in -> out\n  in -- R1 10k -- out\n  out -- C1 (c0) -- gnd\n  out -- C2 (2 * c0) -- gnd\n"
        );
        assert_eq!(rules(&text).len(), 1, "{torn}: {:?}", rules(&text));
        assert!(read(&text, "gain in -> out").starts_with("unknown: "), "{torn}");
    }
}

#[test]
fn a_resonance_without_loss_has_no_figure() {
    let tank = "design\n  supply vpos +12 V, vneg -12 V\n  source a 1 V\nstage tank: a -> out\n  a -- L1 1m -- out\n  out -- C1 1u 50V -- gnd\n";
    let why = "unknown: at 5.03 kHz nothing bounds it: what resonates there has no loss";
    let over = "over 20 Hz .. 20 kHz";
    for phrase in [&format!("level of out {over}"), &format!("gain a -> out {over}"), "voltage of C1", "current of L1"]
    {
        assert_eq!(read(tank, phrase), why, "{phrase}");
    }
    assert_eq!(read(tank, "level of out at (1/(2*pi*sqrt(L1*C1)))"), why);
    // Off the resonance, and in a band beside it, there is one.
    assert_eq!(read(tank, "level of out"), "2.6 dBu (1.04 V)");
    assert!(!read(tank, "level of out over 20 Hz .. 2 kHz").contains("unknown"));
    // What an amplifier hands on of it has none either; what does not hang on it keeps its own.
    let more = format!(
        "{tank}\nstage amp: out -> far\n  U1a ne5532: + out, - far, out far\n  far -- R1 1k -- gnd\n\nstage pad: a -> half\n  a -- R2 1k -- half\n  half -- R3 1k -- gnd\n"
    );
    for phrase in [&format!("level of far {over}"), "power of R1", "headroom of far"] {
        assert_eq!(read(&more, phrase), why, "{phrase}");
    }
    assert_eq!(read(&more, &format!("level of half {over}")), "−3.8 dBu (500 mV)");
    assert_eq!(read(&more, "voltage of R2"), "707 mV");
    // The amplifier's own current noise rings in it too.
    assert_eq!(read(&more, "noise of far"), why);
    // With a loss it is as high as its Q.
    let lossy = tank.replace("L1 1m", "L1 1m -- R1 1R");
    assert_eq!(read(&lossy, &format!("level of out {over}")), "32.2 dBu (31.6 V)");
}
