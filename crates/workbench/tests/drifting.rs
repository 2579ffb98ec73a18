//! An output that its own offset drives to a rail is told, and no figure that would need it elsewhere is made up.

mod said;

use said::{bench, read};

fn problems(text: &str) -> Vec<(&'static str, String)> {
    let all = bench(text).snapshot().problems_reviewed("a", false);
    all.iter().map(|p| (p.id, p.message.clone())).collect()
}

const INTEGRATOR: &str = "\
design
  supply vpos +12 V, vneg -12 V
  source in 1 mV
stage integrator: in -> out
  in -- R1 10k -- n
  U1a ne5532: + gnd, - n, out out
  n -- C1 10n -- out
stage behind: out -> low
  out -- R3 1k -- low
  low -- R4 1k -- gnd
";

#[test]
fn a_real_integrator_without_feedback_at_dc_drifts_and_says_so() {
    let said = problems(INTEGRATOR);
    let [(id, message)] = &said[..] else { panic!("{said:?}") };
    assert_eq!(*id, "offset-beyond-rails");
    assert_eq!(
        message,
        "U1a has no feedback at DC: only capacitors lead from out back to its inputs, so its own offset and bias current would come to 1.19 kV there, more than the 24 V between its rails, and it drifts to one of them. A large resistor across the feedback capacitor would hold it."
    );
    for phrase in ["dc of out", "dc of low", "offset of out", "offset of low", "clip level of out", "headroom of low"] {
        let told = read(INTEGRATOR, phrase);
        assert!(
            told.starts_with("unknown: U1a's offsets and bias currents would come to 1.19 kV at out"),
            "{phrase}: {told}"
        );
    }
}

#[test]
fn a_resistor_across_the_capacitor_holds_it() {
    let held = INTEGRATOR.replace("C1 10n", "C1 10n || R2 100k");
    assert!(problems(&held).is_empty(), "{:?}", problems(&held));
    assert!(!read(&held, "headroom of out").contains("unknown"));
}

#[test]
fn another_stage_that_closes_the_loop_holds_it() {
    let servo = "\
design
  supply vpos +12 V, vneg -12 V
  source in 1 mV
stage amp: in -> out
  in -- C1 1u -- p
  p -- R1 100k -- gnd
  U1a fet_dual: + p, - f, out out
  out -- R2 10k -- f
  f -- R3 1k -- gnd
  out -- R4 1M -- q
  q -- C2 1u -- gnd
  U1b fet_dual: + q, - n, out s
  n -- R5 1M -- gnd
  n -- C3 1u -- s
  s -- R6 10k -- f
";
    assert!(problems(servo).iter().all(|p| p.0 != "offset-beyond-rails"), "{:?}", problems(servo));
}

#[test]
fn too_much_gain_at_rest_is_told_as_that() {
    let text = "\
design
  supply vpos +12 V, vneg -12 V
  source in 10 uV
stage amp: in -> out
  in -- R1 1k -- gnd
  U1a fet_dual: + in, - f, out out
  out -- R2 10M -- f
  f -- R3 1k -- gnd
";
    let said = problems(text);
    let one = said.iter().find(|p| p.0 == "offset-large").unwrap_or_else(|| panic!("{said:?}"));
    assert!(one.1.contains("leg to gnd"), "{}", one.1);
    assert!(said.iter().all(|p| p.0 != "offset-beyond-rails"), "{said:?}");
    assert!(read(text, "clip level of out").starts_with("unknown: U1a's offsets and bias currents would come to"));
}

#[test]
fn an_open_reset_switch_is_named() {
    let text =
        INTEGRATOR.replace("  n -- C1 10n -- out\n", "  n -- C1 10n -- out\n  n -- SW1 closed -- x -- R2 10k -- out\n");
    let said = problems(&text);
    let one = said.iter().find(|p| p.0 == "offset-beyond-rails").unwrap_or_else(|| panic!("{said:?}"));
    assert!(one.1.contains("no feedback at DC at SW1 open") && one.1.contains("with SW1 open, so"), "{}", one.1);
    assert!(!read(&text, "dc of out when SW1 closed").contains("unknown"));
}
