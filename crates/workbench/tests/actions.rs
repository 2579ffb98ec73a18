//! What may be done at a place: each action over all examples, and what each is offered for.

mod said;

use std::collections::BTreeSet;
use std::ops::Range;

use notation::token::TokenKind;
use said::bench;
use workbench::{Action, ActionKind, Asking, Edit, HintKind, Severity, Snapshot, Workbench};

const ALL: [ActionKind; 5] =
    [ActionKind::QuickFix, ActionKind::Rewrite, ActionKind::Extract, ActionKind::FixAll, ActionKind::Renumber];

fn asking(by_hand: bool) -> Asking<'static> {
    Asking { kinds: &ALL, by_hand, edits: true, budget: None }
}

fn applied(text: &str, edits: &[Edit]) -> String {
    let mut out = String::new();
    let mut at = 0;
    for edit in edits {
        assert!(edit.range.start >= at, "in order and apart: {edits:?}");
        out.push_str(&text[at..edit.range.start]);
        out.push_str(&edit.text);
        at = edit.range.end;
    }
    out + &text[at..]
}

/// The text without its marks, and the range between them (or at the one).
fn marked(fixture: &str) -> (String, Range<usize>) {
    let first = fixture.find('¦').expect("a mark");
    let rest = fixture.replacen('¦', "", 1);
    let second = rest.find('¦').unwrap_or(first);
    (rest.replacen('¦', "", 1), first..second)
}

fn offered(fixture: &str, kind: ActionKind) -> (String, Vec<Action>) {
    let (text, range) = marked(fixture);
    let asking = Asking { kinds: &[kind], by_hand: true, edits: true, budget: None };
    let all = bench(&text).snapshot().actions("a", range, &asking);
    (text, all)
}

fn titles(fixture: &str, kind: ActionKind) -> Vec<String> {
    offered(fixture, kind).1.into_iter().map(|a| a.title).collect()
}

/// The text after the action whose title begins so.
fn taken(fixture: &str, kind: ActionKind, title: &str) -> String {
    let (text, all) = offered(fixture, kind);
    let found = all.iter().find(|a| a.title.starts_with(title));
    let action = found
        .unwrap_or_else(|| panic!("{title} is not offered: {:?}", all.iter().map(|a| &a.title).collect::<Vec<_>>()));
    applied(&text, action.edits.as_ref().expect("edits"))
}

/// What is wrong, figures left out where a value may be another one afterwards.
fn errors(snapshot: &Snapshot) -> BTreeSet<(&'static str, String)> {
    let all = snapshot.problems("a");
    all.iter().filter(|p| p.severity == Severity::Error).map(|p| (p.id, p.message.clone())).collect()
}

/// The labels of the statements, designators left out: a part may be called otherwise afterwards. What an assumption costs hangs on the
/// ports of its stage.
fn readings(snapshot: &Snapshot, required: bool) -> Vec<String> {
    let hints = snapshot.hints("a", None).into_iter().filter(|h| h.kind == HintKind::Statement);
    let hints = hints.filter(|h| !required || h.key.starts_with("require"));
    let plain = |label: &str| {
        let word = |w: &str| !w.starts_with(|c: char| c.is_ascii_uppercase());
        label.split([' ', ',']).filter(|w| word(w)).collect::<Vec<_>>().join(" ")
    };
    hints.map(|h| plain(&h.label)).collect()
}

/// An example without the requirements that draw builds, which take their time in a build for tests.
fn quick(text: &str) -> String {
    text.lines().filter(|l| !l.trim_start().starts_with("rejection")).map(|l| format!("{l}\n")).collect()
}

/// A design without its argument.
fn drawing(text: &str) -> &str {
    let end = ["\nassume", "\nformula", "\nrequire"].iter().filter_map(|h| text.find(h)).min();
    &text[..end.unwrap_or(text.len())]
}

fn examples() -> Vec<(String, String)> {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../../examples");
    let mut all: Vec<_> = std::fs::read_dir(folder)
        .expect("examples")
        .map(|f| f.expect("a file").path())
        .filter(|p| p.extension().is_some_and(|e| e == "stage"))
        .map(|p| {
            (p.file_name().unwrap().to_string_lossy().into_owned(), quick(&std::fs::read_to_string(&p).expect("text")))
        })
        .collect();
    all.sort();
    assert!(all.len() >= 5);
    all
}

/// An example with what is known of it.
struct Example {
    name: String,
    text: String,
    bench: Workbench,
    errors: BTreeSet<(&'static str, String)>,
    readings: [Vec<String>; 2],
}

impl Example {
    fn all() -> Vec<Example> {
        examples()
            .into_iter()
            .map(|(name, text)| {
                let bench = bench(&text);
                let snapshot = bench.snapshot();
                let (errors, readings) = (errors(&snapshot), [false, true].map(|only| readings(&snapshot, only)));
                drop(snapshot);
                Example { name, text, bench, errors, readings }
            })
            .collect()
    }

    fn actions(&self, range: Range<usize>, asking: &Asking) -> Vec<Action> {
        self.bench.snapshot().actions("a", range, asking)
    }

    /// What an action comes to: no new error, laid out, and no reading changed where it says so.
    fn holds(&mut self, action: &Action) {
        let (name, title) = (&self.name, &action.title);
        let Some(edits) = &action.edits else {
            assert!(action.disabled.is_some(), "{name}: {title} does nothing");
            return;
        };
        assert!(!edits.is_empty(), "{name}: {title} does nothing");
        let new = applied(&self.text, edits);
        assert_ne!(new, self.text, "{name}: {title}");
        // Another value may well fail a requirement: what is said of the drawing by itself is looked at.
        let valued = !action.same && drawing(&new) != drawing(&self.text);
        self.bench.set_text("a", if valued { drawing(&new).to_string() } else { new.clone() });
        let after = self.bench.snapshot();
        let more: Vec<_> = errors(&after).difference(&self.errors).cloned().collect();
        assert!(more.is_empty(), "{name}: {title}: {more:?}\n{new}");
        assert_eq!(notation::format::formatted(&new), new, "{name}: {title}");
        if action.same {
            let required = action.kind == ActionKind::Extract;
            let mut then = readings(&after, required);
            for label in &self.readings[usize::from(required)] {
                let at = then.iter().position(|l| l == label);
                let at = at.unwrap_or_else(|| panic!("{name}: {title}: {label} is gone: {then:?}\n{new}"));
                then.remove(at);
            }
        }
        // A value that the title names stands there afterwards, with that name.
        if let Some(written) = title.strip_prefix("write ").filter(|w| w.contains(':')) {
            let said = written.split(':').next().unwrap_or_default();
            for pair in said.split(" and ") {
                assert!(new.contains(pair), "{name}: {title}: {pair}\n{new}");
            }
        }
        drop(after);
        self.bench.set_text("a", self.text.clone());
    }
}

#[test]
fn every_action_of_the_examples_does_what_it_says() {
    let mut seen = BTreeSet::new();
    for mut example in Example::all() {
        let mut done = BTreeSet::new();
        let (mut line, mut first) = (0, true);
        for token in notation::tokens(&example.text.clone()) {
            let at = token.span.start as usize;
            if token.kind == TokenKind::LineEnd {
                (line, first) = (line + 1, true);
                continue;
            }
            // What takes a search takes its time in a build for tests: of most examples it is asked for at the headings alone.
            let searched = first || (token.kind == TokenKind::Part && example.name.starts_with("river"));
            let by_hand = searched && (token.kind == TokenKind::Part || token.kind == TokenKind::Name);
            first = false;
            for action in example.actions(at..at, &asking(by_hand)) {
                if done.insert((action.title.clone(), format!("{:?}", action.edits))) {
                    seen.insert(action.title.split(' ').next().unwrap_or_default().to_string());
                    println!("{} {}: {:?} {}", example.name, line + 1, action.kind, action.title);
                    example.holds(&action);
                }
            }
        }
    }
    for word in ["write", "assume", "turn", "number"] {
        assert!(seen.contains(word), "{word}: {seen:?}");
    }
}

#[test]
fn every_stretch_of_a_stage_can_be_taken_out_or_says_why_not() {
    let asking = Asking { kinds: &[ActionKind::Extract], by_hand: true, edits: true, budget: None };
    let (mut out, mut not) = (0, 0);
    for mut example in Example::all() {
        let layout = notation::lay_out(&example.text);
        for block in layout.blocks.iter().filter(|b| b.kind == Some(notation::tree::BlockKind::Stage)) {
            let count = block.entries.len();
            // The upper line by itself, and the lower lines together.
            for (first, last) in [(0, 0)].into_iter().chain((1..count).map(|i| (i, count - 1))) {
                let range = block.entries[first].range.start..block.entries[last].range.end;
                for action in example.actions(range, &asking) {
                    println!("{}: {} {:?}", example.name, action.title, action.disabled);
                    match action.disabled {
                        Some(_) => not += 1,
                        None => out += 1,
                    }
                    example.holds(&action);
                }
            }
        }
    }
    assert!(out > 10, "{out} can, {not} cannot");
}

const PREAMP: &str = "design \"Bird box\"
  band 20 Hz .. 20 kHz

stage preamp: in -> out
  in  -- R1 1M -- gnd
  U1a ideal: + in, - fb, out out
  out -- R2 10k -- fb
  fb  -- R3 1k -- gnd
";

fn with(line: &str) -> String {
    PREAMP.replace("  fb  -- R3 1k -- gnd\n", &format!("{line}\n"))
}

#[test]
fn the_values_around_one_that_is_no_member_come_nearest_first() {
    let all = titles(&with("  fb  -- R3 ¦9.4k -- gnd"), ActionKind::Rewrite);
    let around = [
        "make R3 of 4.7k and 4.7k in series: the same",
        // 10 kΩ · 160 kΩ / 170 kΩ is 9.412 kΩ.
        "make R3 of 10k and 160k in parallel: 0.1 % more",
        "write R3 9.1k: nearest in E24, 3.2 % less",
        "write R3 10k: next above in E24, 6.4 % more",
    ];
    assert!(around.iter().all(|t| all.iter().any(|a| a == t)), "{all:?}");
}

#[test]
fn the_series_is_the_one_that_the_entry_or_its_tolerance_names() {
    let all = titles(&with("  fb  -- R3 ¦9.4k E12 -- gnd"), ActionKind::Rewrite);
    assert!(all.iter().any(|t| t == "write R3 10k: nearest in E12, 6.4 % more"), "{all:?}");
    let all = titles(&with("  fb  -- R3 ¦9.4k 1% -- gnd"), ActionKind::Rewrite);
    assert!(all.iter().any(|t| t == "write R3 9.31k: nearest in E96, 0.96 % less"), "{all:?}");
    let all = titles(&with("  fb  -- C3 ¦100n -- gnd"), ActionKind::Rewrite);
    assert!(all.iter().any(|t| t == "write C3 120n: next above in E12, 20 % more"), "{all:?}");
}

#[test]
fn a_value_is_written_as_the_one_before_was() {
    for (written, title) in [
        ("9k4", "write R3 9k1:"),
        ("9.4 kohm", "write R3 9.1 kohm:"),
        ("9.4kΩ", "write R3 9.1kΩ:"),
        ("9.4 kΩ", "write R3 9.1 kΩ:"),
    ] {
        let all = titles(&with(&format!("  fb  -- R3 ¦{written} -- gnd")), ActionKind::Rewrite);
        assert!(all.iter().any(|t| t.starts_with(title)), "{written}: {all:?}");
    }
}

#[test]
fn a_value_can_be_spelled_otherwise() {
    let spelled = |written: &str, part: &str| {
        let all = titles(&with(&format!("  fb  -- {part} ¦{written} -- gnd")), ActionKind::Rewrite);
        all.into_iter().filter(|t| t.starts_with("write ") && !t.contains(':')).collect::<Vec<_>>()
    };
    assert_eq!(spelled("1500", "R3"), ["write 1k5", "write 1.5k", "write 1.5 kohm"]);
    assert_eq!(spelled("0.1u", "C3"), ["write 100n", "write 100 nF"]);
    assert_eq!(spelled("4k7", "R3"), ["write 4.7k", "write 4.7 kohm"]);
    assert_eq!(spelled("4.7 kΩ", "R3"), ["write 4k7", "write 4.7k"]);
    assert_eq!(spelled("(2 * R2)", "R3"), [""; 0]);
    let band = PREAMP.replace("20 kHz", "¦20000 Hz");
    assert_eq!(titles(&band, ActionKind::Rewrite), ["write 20 kHz"]);
    let after = taken(&band, ActionKind::Rewrite, "write 20 kHz");
    assert!(after.contains("20 Hz .. 20 kHz\n"), "{after}");
}

#[test]
fn one_value_is_made_of_two_parts() {
    let text = with("  fb  -- R3 ¦9.4k film -- gnd    # the gain");
    let series = taken(&text, ActionKind::Rewrite, "make R3 of 4.7k and 4.7k in series");
    assert!(series.contains("  fb  -- R3 4.7k film -- R4 4.7k film -- gnd    # the gain\n"), "{series}");
    let parallel = taken(&text, ActionKind::Rewrite, "make R3 of 10k and 160k in parallel");
    assert!(parallel.contains("  fb  -- R3 10k film || R4 160k film -- gnd    # the gain\n"), "{parallel}");
    // A capacitor's values add up where they stand in parallel.
    let all = titles(&with("  fb  -- C3 ¦170n -- gnd"), ActionKind::Rewrite);
    assert!(all.iter().any(|t| t == "make C3 of 150n and 22n in parallel: 1.2 % more"), "{all:?}");
    // Between two in series a node would have no path at rest.
    assert!(!all.iter().any(|t| t.contains("in series")), "{all:?}");
}

#[test]
fn a_part_that_is_named_elsewhere_stays_one() {
    let text = with("  fb  -- R3 ¦9.4k -- gnd") + "\nformula\n  gain in -> out = 1 + R2 / R3\n";
    let (_, all) = offered(&text, ActionKind::Rewrite);
    let made: Vec<_> = all.iter().filter(|a| a.title.starts_with("make")).collect();
    let why = Some("line 11 names R3, which would then be one of the two".to_string());
    assert!(!made.is_empty() && made.iter().all(|a| a.disabled == why && a.edits.is_none()), "{made:?}");
}

#[test]
fn the_pair_for_a_gain_that_is_required_is_found() {
    let text = with("  fb  -- R3 ¦1k -- gnd") + "\nrequire\n  gain in -> out = 21.5 dB ± 0.2 dB\n";
    let all = titles(&text, ActionKind::Rewrite);
    // 21.5 dB is a ratio of 11.885: R2/R3 = 10.885, and 12 kΩ beside 1.1 kΩ is 10.909, 0.02 dB more.
    assert_eq!(all[0], "write R3 1.1k and R2 12k: 21.5 dB, 0.02 dB above the 21.5 dB wanted");
    let after = taken(&text, ActionKind::Rewrite, "write R3 1.1k and R2 12k");
    assert!(after.contains("out -- R2 12k -- fb\n  fb  -- R3 1.1k -- gnd"), "{after}");
    assert!(bench(&after).snapshot().problems("a").iter().all(|p| p.id != "requirement-fails"));
    // Without a requirement the ratio that is written counts, and only where it cannot be bought.
    let ratio = |text: &str| titles(text, ActionKind::Rewrite).into_iter().filter(|t| t.contains("the ratio")).count();
    assert_eq!(ratio(&with("  fb  -- R3 ¦1k -- gnd")), 0);
    assert!(ratio(&with("  fb  -- R3 ¦1.04k -- gnd")) > 0);
}

#[test]
fn resistors_whose_ratio_counts_for_nothing_are_no_pair() {
    let all = titles(&PREAMP.replace("R1 1M", "R1 ¦1.03M"), ActionKind::Rewrite);
    assert!(all.iter().all(|t| !t.contains(" and ") || t.starts_with("make")), "{all:?}");
}

#[test]
fn a_polar_capacitor_is_turned_with_its_path() {
    let text = with("  fb  -- R3 1k -- C2 ¦22u 16V polar -- gnd    # to the right");
    let after = taken(&text, ActionKind::Rewrite, "turn C2 round");
    assert!(after.contains("  gnd -- C2 22u 16V polar -- R3 1k -- fb    # to the right\n"), "{after}");
    // Another one would be turned with it.
    let two = with("  fb  -- C1 10u polar -- C2 ¦22u polar -- gnd");
    assert!(titles(&two, ActionKind::Rewrite).iter().all(|t| !t.starts_with("turn")));
}

#[test]
fn a_finding_is_accepted_with_a_reason() {
    let text = "stage follower: in -> out\n  in -- C1 1u -- p\n  ¦U1a tl072: + p, - out, out out\n";
    let (_, all) = offered(text, ActionKind::QuickFix);
    assert_eq!(all[0].title, "accept no bias return for U1a, with a reason");
    assert_eq!(all[0].placeholder, Some("say why"));
    let after = taken(text, ActionKind::QuickFix, "accept no bias return");
    assert!(after.starts_with("design\n  accept     no bias return for U1a: \"say why\"\n\nstage follower"), "{after}");
    let then = bench(&after);
    let then = then.snapshot();
    assert!(then.problems("a").iter().all(|p| p.id != "no-bias-return"), "{:?}", then.problems("a"));
    assert_eq!(then.accepted("a").len(), 1);
    // Where there is a design, behind its entries.
    let text = format!("design \"Owl\"\n  band 20 Hz .. 20 kHz    # all of it\n\n{text}");
    let after = taken(&text, ActionKind::QuickFix, "accept no bias return");
    assert!(after.contains("all of it\n  accept     no bias return for U1a: \"say why\"\n\n"), "{after}");
}

#[test]
fn a_bias_current_gets_its_way_home() {
    let text = "stage follower: in -> out\n  in -- C1 15n -- p\n  U1a tl072: + p, - out, out out\n";
    let snapshot = bench(text).snapshot();
    let problem = snapshot.problems("a").iter().find(|p| p.id == "no-bias-return").cloned().expect("it blocks");
    assert_eq!(problem.fixes[0].title, "add p -- R1 10M -- gnd: 1.06 Hz with C1");
    let after = applied(text, &snapshot.laid("a", &problem.fixes[0].edits));
    assert!(bench(&after).snapshot().problems("a").is_empty(), "{after}");
}

#[test]
fn all_that_cannot_be_meant_otherwise_is_mended_at_once() {
    let text = "¦design\n  band 20 Hz – 20 khz\n\nstgae a: in -> out\n  in -- R1 4,7k -- out\nout -- C1 10 uf -- gnd\n";
    let after = taken(text, ActionKind::FixAll, "mend all");
    let (fixed, range) = (after.clone(), 0..0);
    let again = bench(&fixed).snapshot().actions("a", range, &asking(true));
    assert!(again.iter().all(|a| a.kind != ActionKind::FixAll), "{after}");
    for line in ["stage a: in -> out", "  in  -- R1 4.7k -- out", "  out -- C1 10 uF -- gnd"] {
        assert!(after.lines().any(|l| l == line), "{line}: {after}");
    }
    // What may be meant in two ways stays.
    let text = "¦stage a: in -> out\n  in -- R1 10,000 -- out\n  out -- C1 22 -- gnd\n  out -- R2 1k -- gnd\n";
    assert_eq!(titles(text, ActionKind::FixAll), [""; 0]);
}

#[test]
fn parts_are_numbered_as_one_reads_them() {
    let text = "design
  ¦matched R7, R3 1 %
  setting low: VR4 0 %

# R7 and R3 halve it.
stage pad: in -> out
  in -- R7 1k -- out    # not R33
  out -- R3 1k || VR4 1k -- gnd

use pad as far: out -> end
  R7 2k

formula
  gain in -> out = R3 / (far.R7 + R7)
";
    let after = taken(text, ActionKind::Renumber, "number the parts in reading order");
    let wanted = "design
  matched    R1, R2 1 %
  setting    low: VR1 0 %

# R1 and R2 halve it.
stage pad: in -> out
  in  -- R1 1k -- out    # not R33
  out -- R2 1k || VR1 1k -- gnd

use pad as far: out -> end
  R1 2k

formula
  gain in -> out = R2 / (far.R1 + R1)
";
    assert_eq!(notation::format::formatted(&after), wanted);
    assert_eq!(titles(&format!("¦{after}"), ActionKind::Renumber), [""; 0]);
}

/// A file that includes `shelf.stage`, whose parts are numbered; or why they are not.
fn numbered(shelf: &str, text: &str) -> Result<String, String> {
    let mut bench = bench(text);
    bench.set_text("shelf.stage", shelf.into());
    bench.set_included("a", [("shelf.stage".to_string(), Ok("shelf.stage".to_string()))].into());
    let asking = Asking { kinds: &[ActionKind::Renumber], by_hand: true, edits: true, budget: None };
    let all = bench.snapshot().actions("a", 0..0, &asking);
    match (&all[0].edits, &all[0].disabled) {
        (Some(edits), None) => Ok(applied(text, edits)),
        (_, why) => Err(why.clone().expect("a reason")),
    }
}

/// In an expression below a `use` of an included stage a part is the stage's, and else the file's own.
#[test]
fn parts_that_an_included_stage_knows_nothing_of_are_the_file_s_own() {
    let shelf = |part: &str| format!("stage pad: in -> out\n  in -- {part} 1k -- out\n  out -- R9 1k -- gnd\n");
    let text = |part: &str| {
        format!(
            "include \"shelf.stage\"\n\n# R7 comes first.\nstage own: in -> mid\n  in  -- R7 2k -- mid\n  mid -- R1 2k -- gnd\n\nuse pad as far: mid -> out\n  {part} (2*R7)\n"
        )
    };
    let after = numbered(&shelf("R5"), &text("R5")).expect("edits");
    let wanted = text("R5").replace("R1 ", "R2 ").replace("R7", "R1");
    assert_eq!(after, wanted);
    // The stage has an R1 of its own, which the expression would mean then.
    assert_eq!(
        numbered(&shelf("R1"), &text("R1")),
        Err("R1 in line 9 and R7 in line 9 would be one part by their new numbers".into())
    );
    // `all R7` takes in the stage's R7 too, which keeps its number.
    let all = format!("{}\nrequire\n  voltage of all R7\n", text("R7").replace("(2*R7)", "3k"));
    assert_eq!(
        numbered(&shelf("R7"), &all),
        Err("R7 in line 9 is a part of an included file too, which keeps its number there".into())
    );
}

#[test]
fn parts_are_not_numbered_where_something_is_wrong() {
    let text = "¦stage pad: in -> out\n  in -- R7 1k -- out\n  out -- R7 1k -- gnd\n";
    let (_, all) = offered(text, ActionKind::Renumber);
    assert!(all[0].disabled.as_ref().is_some_and(|why| why.starts_with("line 3 has an error")), "{all:?}");
}

#[test]
fn lines_go_into_a_stage_of_their_own() {
    let text = "design
  source in 1 V

stage chain: in -> out
  in -- R1 10k -- mid
¦  # The second pole.
  mid -- R2 10k -- out    # and its
  out -- C2 1n -- gnd¦

require
  gain in -> out at 1 kHz = -0.1 dB ± 0.5 dB
";
    let after = taken(text, ActionKind::Extract, "take these 2 lines");
    let wanted = "stage chain: in -> mid
  in -- R1 10k -- mid

stage chain2: mid -> out
  # The second pole.
  mid -- R2 10k -- out    # and its
  out -- C2 1n -- gnd

require
";
    assert!(after.contains(wanted), "{after}");
    // A place alone is no selection, and neither is all of a stage.
    assert_eq!(titles(&text.replacen('¦', "", 1), ActionKind::Extract), [""; 0]);
    let all = "stage chain: in -> out\n¦  in -- R1 10k -- out\n  out -- R2 10k -- gnd¦\n";
    assert_eq!(titles(all, ActionKind::Extract), [""; 0]);
}

#[test]
fn a_stage_that_statements_speak_of_keeps_what_they_say() {
    let text = "stage chain: in -> out\n¦  in -- R1 10k -- gnd¦\n  in -- R2 10k -- out\n  out -- R3 1k -- gnd\n\nrequire\n  input impedance of chain > 5 kohm\n";
    let (_, all) = offered(text, ActionKind::Extract);
    assert_eq!(all[0].disabled.as_deref(), Some("input impedance of chain would read otherwise"), "{all:?}");
}

#[test]
fn line_ends_stay_as_they_are() {
    for kind in [ActionKind::QuickFix, ActionKind::Rewrite, ActionKind::Renumber] {
        let text = "\u{feff}stage follower: in -> out\n  in -- C7 1u -- p\n  ¦U1a tl072: + p, - out, out out\n"
            .replace('\n', "\r\n");
        let (text, all) = offered(&text, kind);
        for action in all {
            let after = applied(&text, &action.edits.expect("edits"));
            assert_eq!(after.matches('\n').count(), after.matches("\r\n").count(), "{}: {after:?}", action.title);
            assert!(after.starts_with('\u{feff}'), "{after:?}");
        }
    }
    // Nor does the way out of a problem break one.
    let text = "stage follower: in -> out\r\n  in -- C1 15n -- p\r\n  U1a tl072: + p, - out, out out\r\n";
    let snapshot = bench(text).snapshot();
    for problem in snapshot.problems("a").iter() {
        for fix in &problem.fixes {
            let after = applied(text, &snapshot.laid("a", &fix.edits));
            let ends = [after.matches('\n').count(), after.matches('\r').count(), after.matches("\r\n").count()];
            assert!(ends[0] == ends[2] && ends[1] == ends[2], "{}: {after:?}", fix.title);
        }
    }
}

#[test]
fn half_a_text_makes_no_action_stumble() {
    let (_, text) = examples().remove(3);
    for end in (0..text.len()).filter(|i| i % 23 == 0 && text.is_char_boundary(*i)) {
        let half = &text[..end];
        let bench = bench(half);
        let from = half[..end.saturating_sub(40)].char_indices().last().map_or(0, |c| c.0);
        for range in [end..end, from..end, 0..usize::MAX / 2, usize::MAX / 2..usize::MAX / 2] {
            for action in bench.snapshot().actions("a", range, &asking(false)) {
                applied(half, &action.edits.unwrap_or_default());
            }
        }
    }
}
