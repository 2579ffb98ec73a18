//! Workings of circuits that a person knows by sight.

mod read;

use derivation::{Refusal, page, working};
use expect_test::{Expect, expect};

fn text(network: &str) -> String {
    match working(&read::network(network)) {
        Ok(w) => w.drawn.iter().chain(&w.steps).map(page::line).collect::<Vec<_>>().join("\n"),
        Err(Refusal::Past) => "past a hand derivation".into(),
        Err(Refusal::NoAnswer) => "no unique answer".into(),
    }
}

#[track_caller]
fn check(network: &str, expected: Expect) {
    expected.assert_eq(&text(network));
}

#[test]
fn non_inverting() {
    check(
        "in -> drive; R1 in gnd; U1a in fb drive; R2 drive n1; VR1 n1 fb; R3 fb gnd",
        expect![[r#"
            U1a is a non-inverting amplifier: R2 + VR1 from its output back to its − input, R3 from there to gnd.
            R1 from in to gnd draws current and changes nothing: in is driven.
            U1a's output moves until what comes back through its feedback leaves no voltage between its inputs, and no current flows into them: V(fb) = V(in).
            At fb, where U1a's − input draws nothing, what flows in flows on:
              (V(drive) − V(in))/(R2 + VR1) = V(in)/R3
              V(drive)/V(in) = 1 + (R2 + VR1)/R3"#]],
    );
}

#[test]
fn non_inverting_with_capacitors() {
    check(
        "in -> drive; U1a in fb drive; R2 drive fb; C3 drive fb; R3 fb n; C2 n gnd",
        expect![[r#"
            U1a is a non-inverting amplifier: R2 beside C3 from its output back to its − input, R3 in series with C2 from there to gnd.
            U1a's output moves until what comes back through its feedback leaves no voltage between its inputs, and no current flows into them: V(fb) = V(in).
            At fb, where U1a's − input draws nothing, what flows in flows on:
              (V(drive) − V(in))/(R2 || 1/(s·C3)) = V(in)/(R3 + 1/(s·C2))
              V(drive)/V(in) = 1 + (R2 || 1/(s·C3))/(R3 + 1/(s·C2)) = (1 + s·(R2·C3 + R2·C2 + R3·C2) + s²·R2·R3·C2·C3)/((1 + s·R2·C3)·(1 + s·R3·C2))"#]],
    );
}

#[test]
fn inverting() {
    check(
        "drive -> mirror; U1b gnd sum mirror; R4 drive sum; R5 mirror sum",
        expect![[r#"
            U1b is an inverting amplifier: R4 from drive to its − input, R5 from its output back to there, its + input at gnd.
            U1b's output moves until what comes back through its feedback leaves no voltage between its inputs, and no current flows into them: V(sum) = 0, a virtual earth.
            At sum, where U1b's − input draws nothing, what flows in flows on:
              V(drive)/R4 = −V(mirror)/R5
              V(mirror)/V(drive) = −R5/R4"#]],
    );
}

#[test]
fn inverting_with_lag() {
    check(
        "drive -> mirror; U1b gnd sum mirror; R4 drive sum; R5 mirror sum; C4 mirror sum",
        expect![[r#"
            U1b is an inverting amplifier: R4 from drive to its − input, R5 beside C4 from its output back to there, its + input at gnd.
            U1b's output moves until what comes back through its feedback leaves no voltage between its inputs, and no current flows into them: V(sum) = 0, a virtual earth.
            At sum, where U1b's − input draws nothing, what flows in flows on:
              V(drive)/R4 = −V(mirror)/(R5 || 1/(s·C4))
              V(mirror)/V(drive) = −(R5 || 1/(s·C4))/R4 = −(R5/R4)·1/(1 + s·R5·C4)"#]],
    );
}

#[test]
fn follower() {
    check(
        "in -> out; R9 in gnd; U1a in out out",
        expect![[r#"
            U1a is a follower: its output is its − input, and its + input is in.
            R9 from in to gnd draws current and changes nothing: in is driven.
            U1a's output moves until there is no voltage between its inputs, and no current flows into them: V(out) = V(in).
            So:
              V(out)/V(in) = 1"#]],
    );
}

#[test]
fn summing() {
    check(
        "a b c -> out; R1 a sum; R2 b sum; R3 c sum; R4 out sum; U1a gnd sum out",
        expect![[r#"
            U1a is an inverting summing amplifier: R1 from a, R2 from b and R3 from c to its − input, R4 from its output back to there, its + input at gnd.
            U1a's output moves until what comes back through its feedback leaves no voltage between its inputs, and no current flows into them: V(sum) = 0, a virtual earth.
            At sum, where U1a's − input draws nothing, what flows in flows on:
              V(a)/R1 + V(b)/R2 + V(c)/R3 = −V(out)/R4
              V(out) = −(R4/R1)·V(a) − (R4/R2)·V(b) − (R4/R3)·V(c)"#]],
    );
}

#[test]
fn difference() {
    check(
        "p q -> out; R12 p dm; R13 q dp; R14 dm out; R15 dp gnd; U2a dp dm out",
        expect![[r#"
            U2a is a difference amplifier: R12 from p to its − input, R14 from its output back to there.
            U2a's output moves until what comes back through its feedback leaves no voltage between its inputs, and no current flows into them: V(dm) = V(dp).
            At dp, where U2a's + input draws nothing, what flows in flows on:
              (V(q) − V(dp))/R13 = V(dp)/R15
              V(dp) = (R15/(R13 + R15))·V(q)
            At dm, where U2a's − input draws nothing, what flows in flows on:
              (V(p) − V(dp))/R12 = (V(dp) − V(out))/R14
              V(out) = −(R14/R12)·V(p) + (1 + R14/R12)·V(dp)
            So, each input by itself and the others at 0, added up:
              V(out) = −(R14/R12)·V(p) + (1 + R14/R12)·(R15/(R13 + R15))·V(q)"#]],
    );
}

#[test]
fn difference_with_capacitors() {
    check(
        "p q -> out; R12 p dm; R13 q dp; R14 dm out; C6 dm out; R15 dp gnd; C7 dp gnd; U2a dp dm out",
        expect![[r#"
            U2a is a difference amplifier: R12 from p to its − input, R14 beside C6 from its output back to there.
            U2a's output moves until what comes back through its feedback leaves no voltage between its inputs, and no current flows into them: V(dm) = V(dp).
            At dp, where U2a's + input draws nothing, what flows in flows on:
              (V(q) − V(dp))/R13 = V(dp)/(R15 || 1/(s·C7))
              V(dp) = ((R15 || 1/(s·C7))/(R13 + (R15 || 1/(s·C7))))·V(q)
            At dm, where U2a's − input draws nothing, what flows in flows on:
              (V(p) − V(dp))/R12 = (V(dp) − V(out))/(R14 || 1/(s·C6))
              V(out) = −((R14 || 1/(s·C6))/R12)·V(p) + (1 + (R14 || 1/(s·C6))/R12)·V(dp)
            So, each input by itself and the others at 0, added up:
              V(out) = −(R14/R12)·(1/(1 + s·R14·C6))·V(p) + (1 + R14/R12)·(R15/(R13 + R15))·((1 + s·C6·(R12 || R14))/((1 + s·C7·(R13 || R15))·(1 + s·R14·C6)))·V(q)"#]],
    );
}

#[test]
fn instrumentation() {
    check(
        "p n -> fp fn; U1a p gp fp; U1b n gn fn; R1 fp gp; R2 gp gn; R3 gn fn",
        expect![[r#"
            U1a is one half of an instrumentation amplifier: R1 from its output to its − input, R2 from there to U1b's − input.
            U1b is one half of an instrumentation amplifier: R3 from its output to its − input, R2 from there to U1a's − input.
            U1a's output moves until what comes back through its feedback leaves no voltage between its inputs, and no current flows into them: V(gp) = V(p).
            U1b likewise: V(gn) = V(n).
            At gp, where U1a's − input draws nothing, what flows in flows on:
              (V(n) − V(p))/R2 = (V(p) − V(fp))/R1
              V(fp) = (1 + R1/R2)·V(p) − (R1/R2)·V(n)
            At gn, where U1b's − input draws nothing, what flows in flows on:
              (V(p) − V(n))/R2 = (V(n) − V(fn))/R3
              V(fn) = −(R3/R2)·V(p) + (1 + R3/R2)·V(n)
            The one less the other:
              V(fp) − V(fn) = (1 + (R1 + R3)/R2)·(V(p) − V(n))"#]],
    );
}

#[test]
fn integrator() {
    check(
        "in -> out; R1 in sum; C1 sum out; U1a gnd sum out",
        expect![[r#"
            U1a is an inverting integrator: R1 from in to its − input, C1 from its output back to there, its + input at gnd.
            U1a's output moves until what comes back through its feedback leaves no voltage between its inputs, and no current flows into them: V(sum) = 0, a virtual earth.
            At sum, where U1a's − input draws nothing, what flows in flows on:
              V(in)/R1 = −s·C1·V(out)
              V(out)/V(in) = −1/(s·R1·C1)"#]],
    );
}

#[test]
fn differentiator() {
    check(
        "in -> out; C1 in sum; R1 sum out; U1a gnd sum out",
        expect![[r#"
            U1a is an inverting differentiator: C1 from in to its − input, R1 from its output back to there, its + input at gnd.
            U1a's output moves until what comes back through its feedback leaves no voltage between its inputs, and no current flows into them: V(sum) = 0, a virtual earth.
            At sum, where U1a's − input draws nothing, what flows in flows on:
              s·C1·V(in) = −V(out)/R1
              V(out)/V(in) = −s·R1·C1"#]],
    );
}

#[test]
fn shelf() {
    check(
        "in -> out; U1a in fb out; R1 out fb; R2 fb gnd; R3 fb x; C1 x gnd",
        expect![[r#"
            U1a is a non-inverting amplifier: R1 from its output back to its − input, R2 beside (R3 in series with C1) from there to gnd.
            U1a's output moves until what comes back through its feedback leaves no voltage between its inputs, and no current flows into them: V(fb) = V(in).
            At fb, where U1a's − input draws nothing, what flows in flows on:
              (V(out) − V(in))/R1 = V(in)/(R2 || (R3 + 1/(s·C1)))
              V(out)/V(in) = 1 + R1/(R2 || (R3 + 1/(s·C1))) = (1 + R1/R2)·((1 + s·C1·(R3 + (R1 || R2)))/(1 + s·R3·C1))"#]],
    );
}

#[test]
fn sallen_key() {
    check(
        "in -> mid; R1 in x1; R2 x1 y1; C1 x1 mid; C2 y1 gnd; U1a y1 mid mid",
        expect![[r#"
            U1a makes a Sallen-Key section: C1 from its output back to x1, R2 from there to its + input, C2 from the + input to gnd.
            U1a's output moves until there is no voltage between its inputs, and no current flows into them: V(mid) = V(y1).
            At y1, where U1a's + input draws nothing, what flows in flows on:
              (V(x1) − V(mid))/R2 = s·C2·V(mid)
              V(x1) = (1 + s·R2·C2)·V(mid)
            At x1, what flows in flows on:
              (V(in) − V(x1))/R1 = (V(x1) − V(mid))/R2 + s·C1·(V(x1) − V(mid))
            With V(x1) put in:
              V(mid)/V(in) = 1/(1 + s·C2·(R1 + R2) + s²·R1·R2·C1·C2)"#]],
    );
}

#[test]
fn sallen_key_with_gain() {
    check(
        "in -> out; R1 in x; R2 x y; C1 x out; C2 y gnd; U1a y fb out; R3 out fb; R4 fb gnd",
        expect![[r#"
            U1a makes a Sallen-Key section: C1 from its output back to x, R2 from there to its + input, C2 from the + input to gnd.
            U1a's output moves until what comes back through its feedback leaves no voltage between its inputs, and no current flows into them: V(fb) = V(y).
            At fb, where U1a's − input draws nothing, what flows in flows on:
              (V(out) − V(y))/R3 = V(y)/R4
              V(y) = (R4/(R3 + R4))·V(out)
            At y, where U1a's + input draws nothing, what flows in flows on:
              (V(x) − V(y))/R2 = s·C2·V(y)
            With V(y) put in:
              V(x) = (R4·(1 + s·R2·C2)/(R3 + R4))·V(out)
            At x, what flows in flows on:
              (V(in) − V(x))/R1 + (V(y) − V(x))/R2 = s·C1·(V(x) − V(out))
            With V(y) and V(x) put in:
              V(out)/V(in) = (1 + R3/R4)·1/(1 + s·(C2·(R1 + R2) − R1·R3·C1/R4) + s²·R1·R2·C1·C2)"#]],
    );
}

#[test]
fn sallen_key_high_pass() {
    check(
        "in -> out; C1 in x; C2 x y; R1 x out; R2 y gnd; U1a y out out",
        expect![[r#"
            U1a makes a Sallen-Key section: R1 from its output back to x, C2 from there to its + input, R2 from the + input to gnd.
            U1a's output moves until there is no voltage between its inputs, and no current flows into them: V(out) = V(y).
            At y, where U1a's + input draws nothing, what flows in flows on:
              s·C2·(V(x) − V(out)) = V(out)/R2
              V(x) = (1 + 1/(s·R2·C2))·V(out)
            At x, what flows in flows on:
              s·C1·(V(in) − V(x)) = s·C2·(V(x) − V(out)) + (V(x) − V(out))/R1
            With V(x) put in:
              V(out)/V(in) = s²·R1·R2·C1·C2/(1 + s·R1·(C1 + C2) + s²·R1·R2·C1·C2)"#]],
    );
}

#[test]
fn multiple_feedback_low_pass() {
    check(
        "in -> out; R1 in mid; C1 mid gnd; R2 mid out; R3 mid sum; C2 sum out; U1a gnd sum out",
        expect![[r#"
            U1a makes a section with multiple feedback: C2 from its output to its − input and R2 to mid, from where R3 leads to the − input.
            U1a's output moves until what comes back through its feedback leaves no voltage between its inputs, and no current flows into them: V(sum) = 0, a virtual earth.
            At sum, where U1a's − input draws nothing, what flows in flows on:
              s·C2·V(out) = −V(mid)/R3
              V(mid) = −s·R3·C2·V(out)
            At mid, what flows in flows on:
              (V(in) − V(mid))/R1 = s·C1·V(mid) + (V(mid) − V(out))/R2 + V(mid)/R3
            With V(mid) put in:
              V(out)/V(in) = −(R2/R1)·1/(1 + s·C2·(R2 + R3 + R2·R3/R1) + s²·R2·R3·C1·C2)"#]],
    );
}

#[test]
fn multiple_feedback_band_pass() {
    check(
        "in -> out; R1 in mid; R2 mid gnd; C1 mid out; C2 mid sum; R3 sum out; U1a gnd sum out",
        expect![[r#"
            U1a makes a section with multiple feedback: R3 from its output to its − input and C1 to mid, from where C2 leads to the − input.
            U1a's output moves until what comes back through its feedback leaves no voltage between its inputs, and no current flows into them: V(sum) = 0, a virtual earth.
            At sum, where U1a's − input draws nothing, what flows in flows on:
              V(out)/R3 = −s·C2·V(mid)
              V(mid) = −(1/(s·R3·C2))·V(out)
            At mid, what flows in flows on:
              (V(in) − V(mid))/R1 = V(mid)/R2 + s·C1·(V(mid) − V(out)) + s·C2·V(mid)
            With V(mid) put in:
              V(out)/V(in) = −s·R2·R3·C2/((R1 + R2)·(1 + s·(R1 || R2)·(C1 + C2) + s²·R3·C1·C2·(R1 || R2)))"#]],
    );
}

#[test]
fn twin_t() {
    check(
        "in -> t; R1 in a; R2 a t; C3 a gnd; C1 in b; C2 b t; R3 b gnd",
        expect![[r#"
            At b, what flows in flows on:
              s·C1·(V(in) − V(b)) + s·C2·(V(t) − V(b)) = V(b)/R3
              V(b) = (s·R3·C1/(1 + R3·(s·C1 + s·C2)))·V(in) + (s·R3·C2/(1 + R3·(s·C1 + s·C2)))·V(t)
            At t, what flows in flows on:
              s·C2·(V(b) − V(t)) = (V(t) − V(a))/R2
            With V(b) put in:
              V(a) = −(s²·R2·R3·C1·C2/(1 + R3·(s·C1 + s·C2)))·V(in) + (1 + s·R2·C2·(1 + s·R3·C1)/(1 + R3·(s·C1 + s·C2)))·V(t)
            At a, what flows in flows on:
              (V(in) − V(a))/R1 = (V(a) − V(t))/R2 + s·C3·V(a)
            With V(a) put in:
              V(t)/V(in) = (1 + s·R3·(C1 + C2) + s²·R3·C1·C2·(R1 + R2) + s³·R1·R2·R3·C1·C2·C3)/(1 + s·(R1·C3 + R1·C2 + R2·C2 + R3·C1 + R3·C2) + s²·(R1·R2·C2·C3 + R1·R3·C1·C3 + R1·R3·C2·C3 + R1·R3·C1·C2 + R2·R3·C1·C2) + s³·R1·R2·R3·C1·C2·C3)"#]],
    );
}

#[test]
fn all_pass() {
    check(
        "in -> out; R1 in sum; R2 out sum; R3 in plus; C1 plus gnd; U1a plus sum out",
        expect![[r#"
            U1a is an amplifier of which both inputs hang on one node, as in an all-pass: R1 from in to its − input, R2 from its output back to there.
            U1a's output moves until what comes back through its feedback leaves no voltage between its inputs, and no current flows into them: V(sum) = V(plus).
            At plus, where U1a's + input draws nothing, what flows in flows on:
              (V(in) − V(plus))/R3 = s·C1·V(plus)
              V(plus) = (1/(1 + s·R3·C1))·V(in)
            At sum, where U1a's − input draws nothing, what flows in flows on:
              (V(in) − V(plus))/R1 = (V(plus) − V(out))/R2
              V(out) = −(R2/R1)·V(in) + (1 + R2/R1)·V(plus)
            So:
              V(out)/V(in) = (1 − s·R2·R3·C1/R1)/(1 + s·R3·C1)"#]],
    );
}

#[test]
fn state_variable() {
    check(
        "in -> hp bp lp; R1 in sum; R2 lp sum; R3 hp sum; R6 bp plus; R7 plus gnd; U1a plus sum hp; R4 hp s1; C1 s1 bp; U1b gnd s1 bp; R5 bp s2; C2 s2 lp; U2a gnd s2 lp",
        expect![[r#"
            U1a is an amplifier with a signal at either input: R1 from in and R2 from lp to its − input, R3 from its output back to there.
            U1b is an inverting integrator: R4 from hp to its − input, C1 from its output back to there, its + input at gnd.
            U2a is an inverting integrator: R5 from bp to its − input, C2 from its output back to there, its + input at gnd.
            U1a's output moves until what comes back through its feedback leaves no voltage between its inputs, and no current flows into them: V(sum) = V(plus).
            U1b likewise: V(s1) = 0, a virtual earth.
            U2a likewise: V(s2) = 0, a virtual earth.
            At s1, where U1b's − input draws nothing, what flows in flows on:
              V(hp)/R4 = −s·C1·V(bp)
              V(bp) = −(1/(s·R4·C1))·V(hp)
            At plus, where U1a's + input draws nothing, what flows in flows on:
              (V(bp) − V(plus))/R6 = V(plus)/R7
            With V(bp) put in:
              V(plus) = −(R7/(s·R4·C1·(R6 + R7)))·V(hp)
            At s2, where U2a's − input draws nothing, what flows in flows on:
              V(bp)/R5 = −s·C2·V(lp)
            With V(bp) put in:
              V(lp) = (1/(s²·R4·R5·C1·C2))·V(hp)
            At sum, where U1a's − input draws nothing, what flows in flows on:
              (V(in) − V(plus))/R1 + (V(lp) − V(plus))/R2 = (V(plus) − V(hp))/R3
            With V(plus) and V(lp) put in:
              V(hp)/V(in) = −s²·R2·R4·R5·C1·C2/(R1·(1 + s·(1 + R2/R3 + R2/R1)·(R5·R7·C2/(R6 + R7)) + s²·R2·R4·R5·C1·C2/R3))
            So:
              V(bp)/V(in) = s·R2·R5·C2/(R1·(1 + s·(1 + R2/R3 + R2/R1)·(R5·R7·C2/(R6 + R7)) + s²·R2·R4·R5·C1·C2/R3))
            So:
              V(lp)/V(in) = −(R2/R1)·1/(1 + s·(1 + R2/R3 + R2/R1)·(R5·R7·C2/(R6 + R7)) + s²·R2·R4·R5·C1·C2/R3)"#]],
    );
}

#[test]
fn balanced_output() {
    check(
        "in -> hot cold; R6 in hot; U1b gnd sum mirror; R4 in sum; R5 mirror sum; R7 mirror cold",
        expect![[r#"
            U1b is an inverting amplifier: R4 from in to its − input, R5 from its output back to there, its + input at gnd.
            U1b's output moves until what comes back through its feedback leaves no voltage between its inputs, and no current flows into them: V(sum) = 0, a virtual earth.
            Nothing is drawn from hot, so no current flows in R6 between hot and in:
              V(hot) = V(in)
            At sum, where U1b's − input draws nothing, what flows in flows on:
              V(in)/R4 = −V(mirror)/R5
              V(mirror) = −(R5/R4)·V(in)
            Nothing is drawn from cold, so no current flows in R7 between cold and mirror:
              V(cold) = V(mirror)
            So:
              V(hot)/V(in) = 1
            So:
              V(cold)/V(in) = −R5/R4"#]],
    );
}

#[test]
fn divider() {
    check(
        "in -> out; R1 in out; R2 out gnd; C1 out gnd",
        expect![[r#"
            From in to out this is a divider: R1 above, R2 beside C1 to gnd below.
            At out, what flows in flows on:
              (V(in) − V(out))/R1 = V(out)/(R2 || 1/(s·C1))
              V(out)/V(in) = (R2 || 1/(s·C1))/(R1 + (R2 || 1/(s·C1))) = (R2/(R1 + R2))·1/(1 + s·C1·(R1 || R2))"#]],
    );
}

#[test]
fn ladder() {
    check(
        "in -> out; R1 in a; C1 a gnd; R2 a out; C2 out gnd",
        expect![[r#"
            At out, what flows in flows on:
              (V(a) − V(out))/R2 = s·C2·V(out)
              V(a) = (1 + s·R2·C2)·V(out)
            At a, what flows in flows on:
              (V(in) − V(a))/R1 = s·C1·V(a) + (V(a) − V(out))/R2
            With V(a) put in:
              V(out)/V(in) = 1/(1 + s·(R1·C1 + R1·C2 + R2·C2) + s²·R1·R2·C1·C2)"#]],
    );
}

#[test]
fn divider_by_control() {
    check(
        "in -> out; cw(VR1) in out; ccw(VR1) out gnd; R1 out gnd",
        expect![[r#"
            From in to out this is a divider: cw(VR1) above, ccw(VR1) || R1 to gnd below.
            At out, what flows in flows on:
              (V(in) − V(out))/cw(VR1) = V(out)/(ccw(VR1) || R1)
              V(out)/V(in) = (ccw(VR1) || R1)/(cw(VR1) + (ccw(VR1) || R1))"#]],
    );
}

#[test]
fn crossover() {
    check(
        "in -> high; C1 in high; R1 high gnd; L1 high gnd",
        expect![[r#"
            From in to high this is a divider: C1 above, R1 beside L1 to gnd below.
            At high, what flows in flows on:
              s·C1·(V(in) − V(high)) = V(high)/(R1 || s·L1)
              V(high)/V(in) = s·(R1 || s·L1)·C1/(1 + s·(R1 || s·L1)·C1) = s²·L1·C1/(1 + s·L1/R1 + s²·L1·C1)"#]],
    );
}

#[test]
fn wien() {
    check(
        "in -> out; R1 in x; C1 x out; R2 out gnd; C2 out gnd",
        expect![[r#"
            From in to out this is a divider: R1 in series with C1 above, R2 beside C2 to gnd below.
            At out, what flows in flows on:
              (V(in) − V(out))/(R1 + 1/(s·C1)) = V(out)/(R2 || 1/(s·C2))
              V(out)/V(in) = (R2 || 1/(s·C2))/(R1 + 1/(s·C1) + (R2 || 1/(s·C2))) = s·R2·C1/(1 + s·(R1·C1 + R2·C1 + R2·C2) + s²·R1·R2·C1·C2)"#]],
    );
}

#[test]
fn riaa() {
    check(
        "in -> out; R1 in out; R2 out x; C1 x gnd; C2 out gnd",
        expect![[r#"
            From in to out this is a divider: R1 above, C2 beside (R2 in series with C1) to gnd below.
            At out, what flows in flows on:
              (V(in) − V(out))/R1 = V(out)/(1/(s·C2) || (R2 + 1/(s·C1)))
              V(out)/V(in) = (1/(s·C2) || (R2 + 1/(s·C1)))/(R1 + (1/(s·C2) || (R2 + 1/(s·C1)))) = (1 + s·R2·C1)/(1 + s·(R1·C2 + R1·C1 + R2·C1) + s²·R1·R2·C1·C2)"#]],
    );
}

#[test]
fn phono() {
    check(
        "in -> out; U1a in fb out; R1 out x; C1 out x; R2 x fb; C2 x fb; R3 fb y; C3 y gnd",
        expect![[r#"
            U1a is a non-inverting amplifier: (R1 beside C1) in series with (R2 beside C2) from its output back to its − input, R3 in series with C3 from there to gnd.
            U1a's output moves until what comes back through its feedback leaves no voltage between its inputs, and no current flows into them: V(fb) = V(in).
            At fb, where U1a's − input draws nothing, what flows in flows on:
              (V(out) − V(in))/((R1 || 1/(s·C1)) + (R2 || 1/(s·C2))) = V(in)/(R3 + 1/(s·C3))
              V(out)/V(in) = 1 + ((R1 || 1/(s·C1)) + (R2 || 1/(s·C2)))/(R3 + 1/(s·C3)) = (1 + s·(R1·C1 + R1·C3 + R2·C2 + R2·C3 + R3·C3) + s²·(R1·R2·C1·C2 + R1·R2·C1·C3 + R1·R3·C1·C3 + R1·R2·C2·C3 + R2·R3·C2·C3) + s³·R1·R2·R3·C1·C2·C3)/((1 + s·R1·C1)·(1 + s·R2·C2)·(1 + s·R3·C3))"#]],
    );
}

#[test]
fn open_loop() {
    check("in -> out; U1a in fb out; R1 fb gnd", expect!["no unique answer"]);
}

#[test]
fn tone() {
    check(
        "drive -> out; R1 drive b1; cw(VR1) b1 bw; ccw(VR1) bw b2; C1 b1 bw; C2 bw b2; R2 b2 out; R3 bw sum; U1a gnd sum out",
        expect![[r#"
            U1a's feedback reaches its − input through the network around it.
            U1a's output moves until what comes back through its feedback leaves no voltage between its inputs, and no current flows into them: V(sum) = 0, a virtual earth.
            U1a's − input draws nothing, so no current flows in R3 between sum and bw:
              V(bw) = 0
            At bw, what flows in flows on:
              V(drive)/(R1 + (cw(VR1) || 1/(s·C1))) = −V(out)/(R2 + (ccw(VR1) || 1/(s·C2)))
              V(out)/V(drive) = −(R2 + (ccw(VR1) || 1/(s·C2)))/(R1 + (cw(VR1) || 1/(s·C1))) = −((R2 + ccw(VR1))/(R1 + cw(VR1)))·((1 + s·cw(VR1)·C1)·(1 + s·C2·(R2 || ccw(VR1)))/((1 + s·C1·(R1 || cw(VR1)))·(1 + s·ccw(VR1)·C2)))"#]],
    );
}

#[test]
fn howland() {
    check(
        "in -> load; R1 in m; R2 m o; R3 gnd p; R4 p o; R5 o load; R6 load gnd; U1a p m o",
        expect![[r#"
            U1a's feedback reaches its inputs through the network around it.
            U1a's output moves until what comes back through its feedback leaves no voltage between its inputs, and no current flows into them: V(m) = V(p).
            At p, where U1a's + input draws nothing, what flows in flows on:
              (V(o) − V(p))/R4 = V(p)/R3
              V(p) = (R3/(R3 + R4))·V(o)
            At m, where U1a's − input draws nothing, what flows in flows on:
              (V(in) − V(p))/R1 = (V(p) − V(o))/R2
            With V(p) put in:
              V(o) = (R2·(R3 + R4)/(R2·R3 − R1·R4))·V(in)
            At load, what flows in flows on:
              (V(o) − V(load))/R5 = V(load)/R6
              V(load) = (R6/(R5 + R6))·V(o)
            So:
              V(load)/V(in) = R2·R6·(R3 + R4)/((R2·R3 − R1·R4)·(R5 + R6))"#]],
    );
}

/// A name is given only where the shape is exactly that.
#[test]
fn what_looks_alike_is_not_named_so() {
    // A current pump: nothing in it stores, so that it is no filter.
    let pump = text("in -> out; R1 in n; R2 n d; R5 d out; R3 gnd p; R4 p out; R6 out gnd; U1 p n d");
    assert!(!pump.contains("Sallen-Key") && !pump.contains("difference amplifier"), "{pump}");
    // A line driver with its build-out inside the loop: the node behind the build-out is no signal of its own.
    let driver = text("in -> out; U1 in n a; R1 a out; R2 out n; C1 a n; R3 n gnd; R4 out gnd");
    assert!(driver.starts_with("U1's feedback reaches its inputs through the network around it."), "{driver}");
    // A capacitor from the virtual earth to gnd adds no signal.
    let one = text("in -> out; R1 in m; C2 m gnd; R2 m out; U1 gnd m out");
    assert!(
        one.starts_with(
            "U1 is an inverting amplifier: R1 from in to its − input, R2 from its output back to there, C2 from there to gnd, its + input at gnd."
        ),
        "{one}"
    );
}

/// Two amplifiers that make an impedance in front of each other: neither is a difference amplifier, and no minus stands before a minus.
#[test]
fn a_circle_of_two_amplifiers() {
    let told = text("in -> out; R1 in out; R2 out b; R3 b c; C1 c d; R4 d e; R5 e gnd; U1a out c d; U1b e c b");
    assert!(
        told.contains("U1a stands in a circle of amplifiers: its output comes back to its inputs by way of U1b."),
        "{told}"
    );
    assert!(!told.contains("difference") && !told.contains("all-pass"), "{told}");
    assert!(!told.contains("−(−") && told.contains("V(b) = (1 − s·R3·R4·C1/R5)·V(out)"), "{told}");
    assert!(told.ends_with("V(out)/V(in) = 1/(1 + s·R1·R3·R4·C1/(R2·R5))"), "{told}");
}

/// What a photodiode gives flows on through the feedback, and what lies beside the diode has no say: the virtual earth keeps its voltage at 0.
#[test]
fn a_current_into_a_virtual_earth() {
    check(
        "I(pd) -> out; C9 pd gnd; U1a gnd pd out; R1 pd out; C1 pd out",
        expect![[r#"
        U1a is an amplifier whose input is a current: I(pd) to its − input, R1 beside C1 from its output back to there, C9 from there to gnd, its + input at gnd.
        U1a's output moves until what comes back through its feedback leaves no voltage between its inputs, and no current flows into them: V(pd) = 0, a virtual earth.
        At pd, where U1a's − input draws nothing, what flows in flows on:
          I(pd) = −V(out)/(R1 || 1/(s·C1))
          V(out)/I(pd) = −(R1 || 1/(s·C1)) = −R1/(1 + s·R1·C1)"#]],
    );
}

/// A current into a resistance is a voltage, which another amplifier takes up; a second input adds to it.
#[test]
fn a_current_beside_a_voltage() {
    check(
        "I(pd) in -> out; U1a gnd m out; R1 pd gnd; R2 pd m; R3 m out; R4 in m",
        expect![[r#"
        U1a is an inverting summing amplifier: R2 from pd and R4 from in to its − input, R3 from its output back to there, its + input at gnd.
        U1a's output moves until what comes back through its feedback leaves no voltage between its inputs, and no current flows into them: V(m) = 0, a virtual earth.
        At pd, what flows in flows on:
          I(pd) = V(pd)/R1 + V(pd)/R2
          V(pd) = (R1 || R2)·I(pd)
        At m, where U1a's − input draws nothing, what flows in flows on:
          V(pd)/R2 + V(in)/R4 = −V(out)/R3
          V(out) = −(R3/R2)·V(pd) − (R3/R4)·V(in)
        So, each input by itself and the others at 0, added up:
          V(out) = −(R1·R3/(R1 + R2))·I(pd) − (R3/R4)·V(in)"#]],
    );
}

/// A filter of two integrators, each behind a divider.
#[test]
fn a_filter_tuned_by_dividers() {
    check(
        "in -> lp; R1 in a; R2 lp a; R3 a hp; U1a p a hp; R7 bp p; R8 p gnd; cw(VR1a) hp h1; ccw(VR1a) h1 gnd; R5 h1 m1; C1 m1 bp; U1b gnd m1 bp; cw(VR1b) bp h2; ccw(VR1b) h2 gnd; R6 h2 m2; C2 m2 lp; U2a gnd m2 lp",
        expect![[r#"
            U1a is an amplifier with a signal at either input: R1 from in and R2 from lp to its − input, R3 from its output back to there.
            U1b is an inverting integrator: R5 from h1 to its − input, C1 from its output back to there, its + input at gnd.
            U2a is an inverting integrator: R6 from h2 to its − input, C2 from its output back to there, its + input at gnd.
            U1a's output moves until what comes back through its feedback leaves no voltage between its inputs, and no current flows into them: V(a) = V(p).
            U1b likewise: V(m1) = 0, a virtual earth.
            U2a likewise: V(m2) = 0, a virtual earth.
            At m2, where U2a's − input draws nothing, what flows in flows on:
              s·C2·V(lp) = −V(h2)/R6
              V(h2) = −s·R6·C2·V(lp)
            At h2, what flows in flows on:
              (V(bp) − V(h2))/cw(VR1b) = V(h2)/ccw(VR1b) + V(h2)/R6
            With V(h2) put in:
              V(bp) = −s·C2·(cw(VR1b) + R6 + cw(VR1b)·R6/ccw(VR1b))·V(lp)
            At m1, where U1b's − input draws nothing, what flows in flows on:
              s·C1·V(bp) = −V(h1)/R5
            With V(bp) put in:
              V(h1) = s²·R5·C1·C2·(cw(VR1b) + R6 + cw(VR1b)·R6/ccw(VR1b))·V(lp)
            At h1, what flows in flows on:
              (V(hp) − V(h1))/cw(VR1a) = V(h1)/ccw(VR1a) + V(h1)/R5
            With V(h1) put in:
              V(hp) = s²·C1·C2·(cw(VR1a) + R5 + cw(VR1a)·R5/ccw(VR1a))·(cw(VR1b) + R6 + cw(VR1b)·R6/ccw(VR1b))·V(lp)
            At p, where U1a's + input draws nothing, what flows in flows on:
              (V(bp) − V(p))/R7 = V(p)/R8
            With V(bp) put in:
              V(p) = −(cw(VR1b) + R6 + cw(VR1b)·R6/ccw(VR1b))·(s·R8·C2/(R7 + R8))·V(lp)
            At a, where U1a's − input draws nothing, what flows in flows on:
              (V(in) − V(p))/R1 + (V(hp) − V(p))/R3 = (V(p) − V(lp))/R2
            With V(hp) and V(p) put in:
              V(lp)/V(in) = −(R2/R1)·1/(1 + s·(1 + R2/R3 + R2/R1)·(cw(VR1b) + R6 + cw(VR1b)·R6/ccw(VR1b))·(R8·C2/(R7 + R8)) + s²·(cw(VR1a) + R5 + cw(VR1a)·R5/ccw(VR1a))·(cw(VR1b) + R6 + cw(VR1b)·R6/ccw(VR1b))·(R2·C1·C2/R3))"#]],
    );
}
