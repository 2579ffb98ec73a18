//! What a plug that ties one leg of a line to gnd does: to the level, to the balance, and to the amplifier that then drives a short.
//! The expected figures are worked out by hand from Ohm's law, beside each.

mod said;

use said::reading;

const DRIVER: &str = "\
datasheet plain: opamp
  open loop gain 140 dB
  gain bandwidth 1 GHz
  swing from rails 1.5 V
  output current 20 mA
  slew rate 1000 V/us
design
  supply vpos +12 V, vneg -12 V
  source in 100 mV
  balanced line: hot, cold
  setting plug: SW1 closed
stage driver: in -> hot, cold
  U1a plain: + in, - true, out true
  true -- R1 100 -- hot
  in -- R2 10k -- sum
  U1b plain: + gnd, - sum, out inv
  sum -- R3 10k -- inv
  inv -- R4 100 -- cold
  cold -- SW1 open -- gnd
stage receiver: hot, cold
  hot -- R5 10k external -- gnd
  cold -- R6 10k external -- gnd
";

fn holds(phrase: &str, expected: f64) {
    let r = reading(DRIVER, phrase);
    let found = r.magnitude().unwrap_or_else(|| panic!("{phrase}: {:?}", r.unknown()));
    assert!((found / expected - 1.0).abs() < 1e-4, "{phrase}: {found}, not {expected}");
}

#[test]
fn half_the_level_is_left() {
    // Each leg divides by 10k/(10k + 100).
    let leg = 10e3 / 10.1e3;
    holds("level of line when SW1 open", 0.1 * 2.0 * leg);
    holds("level of line when plug", 0.1 * leg);
    // Signal on one leg alone: |v| over |v|/2.
    holds("balance of line when plug", 20.0 * 2f64.log10());
}

#[test]
fn the_cold_legs_amplifier_drives_its_resistor_into_gnd_and_runs_out_of_current() {
    // 100 mV rms across R4 alone, as a peak.
    holds("current of R4 when plug", 0.1 * 2f64.sqrt() / 100.0);
    holds("power of R4 when plug", 0.1 * 0.1 / 100.0);
    // Of 12 V 1.5 V are lost; both legs swing 10.5 V peak.
    holds("clip level of line when SW1 open", 2.0 * 10.5 / 2f64.sqrt() * 10e3 / 10.1e3);
    // 20 mA go into R4 and into R3, whose other end stands at 0 V.
    let peak = 20e-3 / (1.0 / 100.0 + 1.0 / 10e3);
    holds("clip level of line when plug", peak / 2f64.sqrt() * 10e3 / 10.1e3);
}

#[test]
fn the_reviewer_tells_of_it_where_the_source_is_too_much() {
    let loud = DRIVER.replace("source in 100 mV", "source in 2 V");
    let bench = said::bench(&loud);
    let all = bench.snapshot().problems_reviewed("a", false);
    let one = all.iter().find(|p| p.id == "output-current-low").unwrap_or_else(|| panic!("{all:#?}"));
    assert!(
        one.message.starts_with("U1b would have to give")
            && (one.message.contains("SW1 closed") || one.message.contains("plug")),
        "{}",
        one.message
    );
}
