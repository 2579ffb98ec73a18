//! A switch that stands open may cut an input off from its bias current, or an integrator from its feedback at rest: it is told with the
//! switch's name, and what hangs on it is unknown with the way out.

mod said;

use said::{bench, read, rules};

fn messages(text: &str) -> Vec<(&'static str, String)> {
    bench(text).snapshot().problems("a").iter().map(|p| (p.id, p.message.clone())).collect()
}

const BIAS: &str = "\
design
  supply vpos +12 V, vneg -12 V
  source in 100 mV
stage amp: in -> out
  in -- C1 1u -- p -- SW1 open -- bias -- R1 1M -- gnd
  U1a ne5532: + p, - out, out out
";

#[test]
fn an_input_behind_an_open_switch_has_no_bias_return() {
    let said = messages(BIAS);
    let [(id, message)] = &said[..] else { panic!("{said:?}") };
    assert_eq!(*id, "no-bias-return");
    assert_eq!(
        message,
        "U1a's + input has no path for its bias current with SW1 open: C1 blocks it. A resistor from p to gnd would give it one."
    );
    for phrase in ["dc of out", "offset of out", "clip level of out"] {
        assert_eq!(
            read(BIAS, phrase),
            "unknown: U1a's + input has no path for its bias current with SW1 open (a resistor from p to gnd would give it one)",
            "{phrase}"
        );
    }
    assert_eq!(read(BIAS, "dc of out when SW1 closed"), "0 V");
}

#[test]
fn it_is_told_too_where_the_switch_rests_closed() {
    let text = BIAS.replace("SW1 open", "SW1 closed");
    assert_eq!(messages(&text).len(), 1, "{:?}", messages(&text));
    assert!(messages(&text)[0].1.contains("with SW1 open"));
    let held = text.replace("  U1a", "  p -- R2 10M -- gnd\n  U1a");
    assert!(messages(&held).is_empty(), "{:?}", messages(&held));
}

#[test]
fn a_selector_is_named_with_where_it_stands() {
    let text = "\
design
  supply vpos +12 V, vneg -12 V
stage pick: a, b -> out
  a -- C1 1u -- x
  x -- R1 100k -- gnd
  b -- C2 1u -- y
  SW1 at 1: pole p, 1 x, 2 y
  U1a ne5532: + p, - out, out out
";
    let said = messages(text);
    let [(id, message)] = &said[..] else { panic!("{said:?}") };
    assert_eq!(*id, "no-bias-return");
    assert!(message.contains("with SW1 at 2") && message.contains("C2"), "{message}");
}

#[test]
fn an_ideal_integrator_with_an_open_switch_across_its_capacitor_drifts() {
    let text = "\
stage integ: in -> out
  in -- R1 10k -- n
  U1 ideal: + gnd, - n, out out
  n -- C1 10n -- out
  n -- SW1 closed -- x -- R2 1M -- out
";
    let said = messages(text);
    let [(id, message)] = &said[..] else { panic!("{said:?}") };
    assert_eq!(*id, "no-dc-feedback");
    assert_eq!(
        message,
        "U1 has no feedback at DC with SW1 open: only capacitors lead from out back to its inputs, so it drifts to a rail. A large resistor across the feedback capacitor would hold it."
    );
    assert!(read(text, "dc of out when SW1 open").contains("U1 has no feedback at DC with SW1 open (a large resistor"));
    assert_eq!(read(text, "dc of out when SW1 closed"), "0 V");
}

#[test]
fn both_at_once_are_both_told() {
    let text = BIAS.to_string()
        + "stage integ: out -> io\n  out -- R2 10k -- n\n  U1b ideal: + gnd, - n, out io\n  n -- C2 10n -- io\n  n -- SW2 open -- x -- R3 1M -- io\n";
    let mut ids = rules(&text);
    ids.sort_unstable();
    assert_eq!(ids, ["no-bias-return", "no-dc-feedback"], "{:?}", messages(&text));
}

#[test]
fn a_switch_that_leaves_another_way_is_left_alone() {
    let text = "\
design
  supply vpos +12 V, vneg -12 V
stage amp: in -> out
  in -- C1 1u -- p -- R1 1M -- gnd
  p -- SW1 open -- C2 10n -- gnd
  U1a ne5532: + p, - f, out out
  out -- R2 10k -- f -- R3 1k -- gnd
  f -- SW2 open -- t -- R4 1k -- gnd
  SW3 at 1: pole out, 1 o1, 2 o2
  o1 -- R5 10k -- gnd
  o2 -- R6 10k -- gnd
";
    assert!(rules(text).is_empty(), "{:?}", messages(text));
}
