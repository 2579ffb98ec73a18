//! Branches of exactly 0 Ω at a position: what they tie that is held already, and what they leave known.

use proptest::prelude::*;
use workbench::{Answer, Workbench};

mod said;

/// What a phrase reads as, in one line.
fn line(text: &str, phrase: &str) -> String {
    match &said::bench(text).snapshot().read("a", phrase)[..] {
        [Answer::Reading(r)] => r.line(Default::default()),
        other => panic!("one reading is asked for: {other:?}"),
    }
}

/// Why a phrase is unknown.
fn why(text: &str, phrase: &str) -> String {
    let said = line(text, phrase);
    said.split_once(" is unknown: ").unwrap_or_else(|| panic!("it is unknown: {said}")).1.into()
}

/// An inverter, R2/R1 = 1, with a mute at its output, in front of a divider of two equal resistors.
fn muted(state: &str) -> String {
    format!(
        "design\n  source in 1 V\n\nstage buffer: in -> b\n  U1a ideal: + in, - b, out b\n\nstage inverter: b -> y\n  b -- R1 10k -- m\n  y -- R2 10k -- m\n  U1b ideal: + gnd, - m, out y\n\n\
         stage mute: y -> z\n  y -- SW1 {state} -- gnd\n  y -- R3 1k -- z\n  z -- R4 1k -- gnd\n"
    )
}

/// The amplifier holds y at −1 V, the contact at 0. All that hangs on y is unknown there; in front of the buffer nothing is felt.
#[test]
fn a_contact_across_an_output() {
    let tied = "SW1 closed ties U1b's output y to gnd: two voltages on one node";
    let closed = muted("closed");
    for phrase in ["gain in -> y", "gain y -> z", "gain in -> z", "level of y", "level of z", "dc of z", "noise of y"] {
        assert_eq!(why(&closed, phrase), tied, "{phrase}");
    }
    assert_eq!(why(&closed, "impedance of y"), tied);
    // V(b) = V(in), whatever the inverter does.
    assert_eq!(line(&closed, "gain in -> b"), "gain in -> b = ×1.00 (0.0 dB)");
    assert_eq!(line(&closed, "level of b"), "level of b = 2.2 dBu (1 V)");
    assert_eq!(line(&closed, "impedance of b"), "impedance of b = 0 Ω");
    // With the neighbour's output lifted, 2 kΩ beside the contact.
    let zin = "input impedance of mute";
    assert_eq!(line(&closed, zin), format!("{zin} = 0 Ω, 2 kΩ … 0 Ω over SW1"));
}

#[test]
fn positions_in_which_it_is_open_stay() {
    let open = muted("open");
    assert_eq!(line(&open, "level of z when SW1 open"), "level of z when SW1 open = −3.8 dBu (500 mV)");
    assert_eq!(line(&muted("closed"), "gain in -> y when SW1 open"), "gain in -> y when SW1 open = ×−1.00 (0.0 dB)");
    assert_eq!(
        line(&open, "gain in -> y"),
        "gain in -> y = ×−1.00 (0.0 dB) at rest; over the positions unknown: at SW1 closed: SW1 closed ties U1b's output y to gnd: two voltages on one node"
    );
    assert_eq!(line(&open, "gain in -> b"), "gain in -> b = ×1.00 (0.0 dB)");
    // A heading stays short.
    assert!(said::hints(&open).contains("0.0 dB inverted at rest"), "{}", said::hints(&open));
}

/// What a gain-bandwidth and an output resistance make of it is exact: V(y) = 0, all of the voltage falls on the resistance. It is told all the
/// same: nobody shorts an output on purpose.
#[test]
fn an_output_resistance_keeps_the_two_apart() {
    let sheet =
        "\ndatasheet soft: opamp\n  open loop gain 100 dB\n  gain bandwidth 3 MHz\n  output resistance 100 ohm\n";
    let text = muted("closed").replace("U1b ideal", "U1b soft") + sheet;
    assert_eq!(line(&text, "gain in -> y when SW1 closed"), "gain in -> y when SW1 closed = ×0 (typ.: soft)");
    assert_eq!(said::rules(&text), ["two-voltages"]);
    let mut bench = Workbench::new();
    bench.set_text("a", text);
    let message = &bench.snapshot().problems("a")[0].message;
    assert!(message.contains("SW1 closed ties U1b's output y to gnd"), "{message}");
    assert!(message.contains("an output works against it there with all the current that it can give"), "{message}");
}

#[test]
fn contacts_across_sources() {
    let text = |part: &str| {
        format!(
            "design\n  source x 1 V\n  source w 1 V\n  supply vpos +12 V\n\nstage mix: x, w -> z\n  {part}\n  x -- R1 1k -- z\n  w -- R2 1k -- z\n  z -- R3 1k -- gnd\n"
        )
    };
    for (part, said) in [
        ("x -- SW1 closed -- gnd", "SW1 closed ties source x to gnd"),
        ("x -- SW1 closed -- w", "SW1 closed ties source x to source w"),
        ("x -- SW1 closed -- vpos", "SW1 closed ties source x to the rail vpos"),
        ("x -- VR1 10k lin at 0 % -- w", "VR1 at 0 % ties source x to source w"),
        ("x -- L1 0 mH -- w", "L1 ties source x to source w"),
        ("x -- VR1 0R lin -- w", "VR1 ties source x to source w"),
    ] {
        let text = text(part);
        let said = format!("{said}: two voltages on one node");
        for phrase in ["gain x -> z", "level of x", "level of z", "dc of z", "noise of z", "impedance of z"] {
            assert_eq!(why(&text, phrase), said, "{phrase} with {part}");
        }
        assert_eq!(said::rules(&text).iter().filter(|r| **r == "two-voltages").count(), 1, "{part}");
    }
    // With its own source taken off, x is what the contact makes it.
    let shorted = text("x -- SW1 closed -- gnd");
    assert!(line(&shorted, "impedance of x").starts_with("impedance of x = 0 Ω"));
}

/// A link says so at every position, and so does what is read at the node itself.
#[test]
fn a_link_across_an_output() {
    let text = "stage inv: in -> y\n  in -- R1 10k -- m\n  y -- R2 10k -- m\n  U1a ideal: + gnd, - m, out y\n  y -- R9 0R -- gnd\n";
    for phrase in ["impedance of y", "gain in -> y", "level of y", "impedance of in"] {
        assert_eq!(why(text, phrase), "R9 ties U1a's output y to gnd", "{phrase}");
    }
    assert!(!said::rules(text).contains(&"two-voltages"), "it is said once");
}

/// V(out) is that of gnd.
#[test]
fn a_link_to_gnd_leaves_exactly_nothing() {
    let text = "stage a: in -> out\n  in -- R1 10k -- out\n  out -- R2 0R -- gnd\n";
    assert_eq!(line(text, "gain in -> out"), "gain in -> out = ×0");
    assert_eq!(why(text, "phase in -> out"), "nothing arrives there, so it has no phase");
    assert_eq!(said::rules(text), [""; 0]);
    // gnd to gnd, twice: no two voltages.
    let twice = text.replace("R2 0R -- gnd", "R2 0R -- q -- R3 0R -- gnd");
    assert_eq!(line(&twice, "gain in -> out"), "gain in -> out = ×0");
    assert_eq!(said::rules(&twice), [""; 0]);
}

/// A potentiometer's wiper meets one end or the other, a rotary switch one contact: never two voltages.
#[test]
fn what_no_position_joins_is_not_joined() {
    let volume = "design\n  source x 1 V\n\nstage vol: x -> y\n  VR1 10k lin: cw x, wiper w, ccw gnd\n  U1a ideal: + w, - y, out y\n\nstage beside: x -> z\n  x -- R1 1k -- z\n  z -- R2 1k -- gnd\n";
    assert_eq!(said::rules(volume), [""; 0]);
    assert_eq!(line(volume, "gain x -> z"), "gain x -> z = ×0.500 (−6.0 dB)");
    let fader = "design\n  source x 1 V\n  source w 1 V\n\nstage fade: x, w -> y\n  VR1a 10k lin: cw x, wiper p, ccw gnd\n  VR1b 10k lin: ccw w, wiper q, cw gnd\n  p -- R1 0R -- q\n  p -- R2 10k -- y\n  y -- R3 10k -- gnd\n";
    // At 0 % the first wiper is at gnd and the second at w; at 100 % the first is at x and the second at gnd.
    let rules = said::rules(fader);
    assert_eq!(rules.iter().filter(|r| **r == "two-voltages").count(), 1);
    assert_eq!(
        why(fader, "gain w -> y when VR1 0 %"),
        "VR1b at 0 %, R1 and VR1a at 0 % tie source w to gnd: two voltages on one node"
    );
    // Both tracks halves: 5 kΩ to x, w and twice to gnd at p: (1/5)/(4/5 + 1/20) · 1/2 = 2/17 = 0.118.
    assert_eq!(line(fader, "gain x -> y when VR1 50 %"), "gain x -> y when VR1 50 % = ×0.118 (−18.6 dB)");
    let rotary = "design\n  source a 1 V\n  source b 1 V\n\nstage sel: a, b -> out\n  SW1 at 1: pole p, 1 a, 2 b, 3 gnd\n  p -- R1 10k -- out\n  out -- R2 10k -- gnd\n";
    assert_eq!(said::rules(rotary), [""; 0]);
    assert_eq!(line(rotary, "level of out"), "level of out = −3.8 dBu (500 mV), 500 mV … 0 V over SW1");
    let two = rotary.replace("  p -- R1", "  p -- SW2 open -- a\n  p -- R1");
    assert_eq!(
        why(&two, "level of out when SW1 3, SW2 closed"),
        "SW2 closed and SW1 at 3 tie source a to gnd: two voltages on one node"
    );
    assert_eq!(said::rules(&two), ["two-voltages"]);
}

/// A source that floats holds a difference: a contact across it, or one at each leg, is what shorts it; one alone is not.
#[test]
fn contacts_across_a_source_that_floats() {
    let text = |entries: &str| {
        format!(
            "design\n  balanced line: hot, cold\n  source line 1 V\n\nstage receiver: hot, cold -> out\n{entries}  hot -- R1 10k -- m\n  cold -- R2 10k -- p\n  p -- R3 10k -- gnd\n  out -- R4 10k -- m\n  U1a ideal: + p, - m, out out\n"
        )
    };
    assert_eq!(
        why(&text("  hot -- SW1 closed -- cold\n"), "gain line -> out"),
        "SW1 closed joins both ends of source line"
    );
    let legs = text("  hot -- SW1 open -- gnd\n  cold -- SW2 open -- gnd\n");
    assert_eq!(
        why(&legs, "gain line -> out when SW1 closed, SW2 closed"),
        "SW1 closed and SW2 closed join both ends of source line"
    );
    // Of four equal resistors the amplifier makes V(cold) − V(hot), wherever the pair stands.
    let one = "gain line -> out when SW1 closed";
    assert_eq!(line(&legs, one), format!("{one} = ×−1.00 (0.0 dB)"));
    assert_eq!(said::rules(&legs), ["two-voltages"]);
}

#[test]
fn it_may_be_accepted() {
    let text = muted("open").replacen("design\n", "design\n  accept two voltages for SW1: \"a bench test\"\n", 1);
    assert_eq!(said::rules(&muted("open")), ["two-voltages"]);
    assert_eq!(said::rules(&text), [""; 0]);
}

/// Whether a wiper meets its end is a matter of its travel; a switch of which nobody knows how it stands may be closed.
#[test]
fn what_is_half_written_is_not_guessed() {
    let text = |part: &str| {
        format!(
            "design\n  source x 1 V\n\nstage pad: x -> z\n  x -- {part} -- gnd\n  x -- R1 1k -- z\n  z -- R2 1k -- gnd\n"
        )
    };
    assert_eq!(
        line(&text("VR1"), "gain x -> z"),
        "gain x -> z = ×0.500 (−6.0 dB) at rest; over the positions unknown: at VR1 0 %: VR1 at 0 % ties source x to gnd: two voltages on one node"
    );
    assert!(why(&text("SW1"), "gain x -> z").contains("SW1"));
}

/// Twelve nodes, each joined to each: more ways than anybody looks through. What cannot be told is unknown; nothing hangs.
#[test]
fn more_ways_than_are_looked_through() {
    let mut text = String::from(
        "design\n  source x 1 V\n\nstage mesh: x -> n1\n  x -- R1 1k -- n1\n  x -- SW999 open -- n1\n  n12 -- SW998 open -- gnd\n  n1 -- R2 1k -- gnd\n",
    );
    let mut number = 0;
    for a in 1..=12 {
        for b in a + 1..=12 {
            number += 1;
            text += &format!("  n{a} -- SW{number} open -- n{b}\n");
        }
    }
    let said = line(&text, "gain x -> n1 when SW1 open");
    assert!(
        said.ends_with("more ways lead through contacts here than are looked through for two voltages on one node"),
        "{said}"
    );
}

/// A source, gnd and three nodes with a resistor between any two of them, so that everything is determined.
fn mesh(ties: &[(usize, usize)], tie: impl Fn(usize) -> String) -> String {
    let nodes = ["gnd", "x", "a", "b", "c"];
    let mut text = String::from("design\n  source x 1 V\n\nstage mesh: x -> a\n");
    let mut number = 0;
    for i in 0..nodes.len() {
        for k in i + 1..nodes.len() {
            number += 1;
            text += &format!("  {} -- R{number} {}k -- {}\n", nodes[i], number, nodes[k]);
        }
    }
    for (k, (i, j)) in ties.iter().enumerate() {
        text += &format!("  {} -- {} -- {}\n", nodes[*i], tie(k), nodes[*j]);
    }
    text
}

fn size(text: &str, phrase: &str) -> Result<f64, String> {
    let mut bench = Workbench::new();
    bench.set_text("a", text.into());
    match &bench.snapshot().read("a", phrase)[..] {
        [Answer::Reading(r)] => {
            r.unknown().map_or_else(|| Ok(r.magnitude().unwrap_or(f64::NAN)), |why| Err(why.into()))
        }
        other => panic!("one reading is asked for: {other:?}"),
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]
    /// Where contacts do not tie the source to gnd, they do what 1 nΩ does; where they do, nothing is known.
    #[test]
    fn a_contact_is_the_limit_of_a_small_resistance(
        ties in prop::collection::vec((0..5usize, 0..5usize).prop_filter("two nodes", |(a, b)| a != b), 1..4)
    ) {
        // Who hangs together with whom, by passing the least number round.
        let mut group = [0, 1, 2, 3, 4];
        for _ in 0..5 {
            for (a, b) in &ties {
                let least = group[*a].min(group[*b]);
                (group[*a], group[*b]) = (least, least);
            }
        }
        let closed = mesh(&ties, |k| format!("SW{} closed", k + 1));
        let set: Vec<String> = (1..=ties.len()).map(|k| format!("SW{k} closed")).collect();
        let small = mesh(&ties, |k| format!("R{} 1 nΩ", 50 + k));
        for node in ["a", "b", "c"] {
            let found = size(&closed, &format!("gain x -> {node} when {}", set.join(", ")));
            if group[0] == group[1] {
                let why = found.expect_err("a contradiction");
                prop_assert!(why.ends_with("tie source x to gnd: two voltages on one node") || why.ends_with("ties source x to gnd: two voltages on one node"), "{}", why);
            } else {
                let (found, near) = (found.expect("it is known"), size(&small, &format!("gain x -> {node}")).expect("it is known"));
                prop_assert!((found - near).abs() < 1e-9, "{} and {} of {}", found, near, closed);
            }
        }
    }
}

/// Outputs that have a resistance of their own fight through a contact like those that have none.
#[test]
fn real_outputs_on_one_contact_are_told() {
    for kind in ["ideal", "ne5532"] {
        let text = format!(
            "design\n  supply vp +15 V, vm -15 V\nstage y: a -> o, o2\n  U1a {kind}: + a, - o, out o\n  U1b {kind}: + a, - f, out o2\n  o2 -- R1 1k -- f -- R2 1k -- gnd\n  o2 -- SW1 closed -- o\n"
        );
        let mut bench = Workbench::new();
        bench.set_text("a", text);
        let ids: Vec<&str> = bench.snapshot().problems("a").iter().map(|p| p.id).collect();
        assert_eq!(ids, ["two-voltages"], "{kind}");
    }
    // Behind a resistor they share it.
    let apart = "design\n  supply vp +15 V, vm -15 V\nstage y: a -> o, o2\n  U1a ne5532: + a, - o, out o\n  U1b ne5532: + a, - o2, out o2\n  o2 -- R1 100 -- x\n  o -- R2 100 -- x\n  x -- SW1 closed -- gnd\n";
    let mut bench = Workbench::new();
    bench.set_text("a", apart.into());
    assert_eq!(*bench.snapshot().problems("a"), []);
}

/// Where outputs give way the reviewer goes on looking at everything else.
#[test]
fn real_outputs_that_are_tied_hide_no_other_rule() {
    let text = |sw: &str| {
        format!(
            "design\n  supply vp +15 V, vm -15 V\n  source a 5 V\nstage y: a -> o\n  a -- R1 10 0.1W -- gnd\n  U1a ne5532: + a, - o, out o\n  o -- SW1 {sw} -- gnd\n"
        )
    };
    let reviewed = |sw: &str| -> Vec<&'static str> {
        let mut bench = Workbench::new();
        bench.set_text("a", text(sw));
        bench.snapshot().problems_reviewed("a", false).iter().map(|p| p.id).collect()
    };
    assert!(reviewed("open").contains(&"over-power"), "{:?}", reviewed("open"));
    let tied = reviewed("closed");
    assert!(tied.contains(&"two-voltages") && tied.contains(&"over-power"), "{tied:?}");
}
