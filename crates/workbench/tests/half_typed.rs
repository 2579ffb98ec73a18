//! What an unfinished line is in its file: what is said about it and about the others, and what the others show meanwhile.
//! The tree and the grade of each such line stand in the notation's own test of that name.

use expect_test::{Expect, expect};
use workbench::Workbench;

/// The weir's hydrophone: a file to type in, `…` where the line stands.
const WEIR: &str = "\
design
  band    20 Hz .. 20 kHz
  supply  vpos +12 V, vneg -12 V
  source  in 5 mV

stage preamp: in -> out
  in  -- R1 1M -- gnd
  U1a fet_dual: + in, - fb, out out
  out -- R2 10k -- VR1 10k lin -- fb
  fb  -- R4 1k -- gnd
  …
require
  gain in -> out
  …
";

fn see(text: &str) -> String {
    let mut bench = Workbench::new();
    bench.set_text("weir", text.into());
    let snapshot = bench.snapshot();
    let mut out = String::new();
    for p in snapshot.problems("weir").iter() {
        let before = &text[..p.range.start];
        let (line, column) =
            (before.matches('\n').count() + 1, before.rsplit('\n').next().map_or(0, |l| l.chars().count()) + 1);
        let yet = if p.unfinished { " …" } else { "" };
        out += &format!("{line}:{column} {}: {}{yet}\n", p.id, p.message);
        for fix in &p.fixes {
            let mut edits = fix.edits.clone();
            edits.sort_by_key(|e| std::cmp::Reverse(e.range.start));
            let mut mended = text.to_string();
            edits.iter().for_each(|e| mended.replace_range(e.range.clone(), &e.text));
            let changed = mended.lines().filter(|l| !text.lines().any(|k| k == *l)).collect::<Vec<_>>().join(" / ");
            out += &format!("    {} => {changed}\n", fix.title);
        }
    }
    let hints = snapshot.hints("weir", None);
    if let Some(stage) = hints.iter().find(|h| h.key.starts_with("stage ")) {
        out += &format!("{}: {}\n", stage.key, stage.label.split(" · ").next().unwrap_or_default());
    }
    out
}

/// Types a line at the end of the stage.
fn stage(line: &str, expected: Expect) {
    expected.assert_eq(&see(&WEIR.replacen('…', line, 1).replacen("  …\n", "", 1)));
}

/// Types a line at the end of the requirements.
fn require(line: &str, expected: Expect) {
    expected.assert_eq(&see(&WEIR.replacen("  …\n", "", 1).replacen('…', line, 1)));
}

fn file(text: &str, expected: Expect) {
    expected.assert_eq(&see(text));
}

#[test]
fn a_path_node_by_node() {
    stage(
        "fb",
        expect![[r#"
        11:5 path-alone: Behind fb a `--` and a part are missing. …
        stage preamp: unknown: line 11 is unfinished
    "#]],
    );
    stage(
        "fb -",
        expect![[r#"
        11:6 link-missing: `--` connects, and only half of it stands here. …
            write -- =>   fb --
        stage preamp: unknown: line 11 is unfinished
    "#]],
    );
    stage(
        "fb --",
        expect![[r#"
        11:8 step-missing: A part or a node is missing behind `--`. …
        stage preamp: unknown: line 11 is unfinished
    "#]],
    );
    stage(
        "fb -- R",
        expect![[r#"
            11:9 number-missing: R has no number yet: a part is called R1, R2 and so on. …
            stage preamp: unknown: line 11 is unfinished
        "#]],
    );
    stage(
        "fb -- R3",
        expect![[r#"
        11:9 value-missing: R3 has no value yet. …
        stage preamp: unknown: line 11 is unfinished
    "#]],
    );
    stage(
        "fb -- R3 1",
        expect![[r#"
        11:9 path-ends-at-part: The path ends at R3: a node is missing. …
        stage preamp: unknown: line 11 is unfinished
    "#]],
    );
    stage(
        "fb -- R3 1k --",
        expect![[r#"
        11:17 step-missing: A part or a node is missing behind `--`. …
        stage preamp: unknown: line 11 is unfinished
    "#]],
    );
    stage(
        "fb -- R3 1k -- C2 22",
        expect![[r#"
        11:18 path-ends-at-part: The path ends at C2: a node is missing. …
        stage preamp: unknown: line 11 is unfinished
    "#]],
    );
    stage(
        "fb -- R3 1k -- C2 22u pol",
        expect![[r#"
        11:18 path-ends-at-part: The path ends at C2: a node is missing. …
        stage preamp: unknown: line 11 is unfinished
    "#]],
    );
    stage(
        "fb -- R3 1k -- C2 22u polar -- g",
        expect![[r#"
            11:34 node-used-once: g is used once, by C2, and leads nowhere: did you mean gnd?
                write gnd =>   fb -- R3 1k -- C2 22u polar -- gnd
            stage preamp: 20.8 … 26.4 dB over VR1
        "#]],
    );
}

#[test]
fn a_path_with_something_left_out() {
    stage(
        "fb -- R3 1k || -- gnd",
        expect![[r#"
        11:17 part-missing: A part is missing behind `||`.
        stage preamp: unknown: line 11 is unfinished
    "#]],
    );
    stage(
        "fb -- -- C2 22u -- gnd",
        expect![[r#"
        11:8 step-missing: A part is missing between the two `--`.
        stage preamp: unknown: line 11 is unfinished
    "#]],
    );
    stage(
        "fb -- R3 (2*R4 -- gnd",
        expect![[r#"
            11:17 parenthesis-missing: `)` is missing.
                write ) =>   fb -- R3 (2*R4) -- gnd
            stage preamp: unknown: R3's value cannot be read
        "#]],
    );
    stage(
        "fb - R3 1k -- gnd",
        expect![[r#"
        11:6 look-alike: `-` connects nothing: `--` does.
            write -- =>   fb -- R3 1k -- gnd
        stage preamp: unknown: line 11 is unfinished
    "#]],
    );
    stage(
        "in -- r1 10k -- out",
        expect![[r#"
            11:9 value-behind-node: A value cannot follow the node r1: did you mean R1?
                write R1 =>   in -- R1 10k -- out
            stage preamp: unknown: line 11 needs another name
        "#]],
    );
    stage(
        "in -- out",
        expect![[r#"
        11:9 nodes-in-a-row: No part stands between in and out: one node too many, or a part missing?
        stage preamp: unknown: line 11 is unfinished
    "#]],
    );
    stage(
        "R3 1k -- gnd",
        expect![[r#"
        11:3 path-begins-with-part: A path begins with a node: which one is at R3's left?
        stage preamp: unknown: line 11 is unfinished
    "#]],
    );
}

#[test]
fn a_part_whose_value_is_missing_or_unread_stays_in_the_circuit() {
    stage(
        "fb -- R3 -- gnd",
        expect![[r#"
        11:9 value-missing: R3 has no value yet.
        stage preamp: unknown: R3 has no value
    "#]],
    );
    stage(
        "fb -- C2 22 -- gnd",
        expect![[r#"
        11:12 unreadable-figure: C2 22 has no prefix or unit: 22p, 22n or 22u.
            write 22p =>   fb -- C2 22p -- gnd
            write 22n =>   fb -- C2 22n -- gnd
            write 22u =>   fb -- C2 22u -- gnd
        stage preamp: unknown: C2's value cannot be read
    "#]],
    );
    stage(
        "fb -- C2 22u pol -- gnd",
        expect![[r#"
            11:16 attribute-unknown: `pol` is no attribute: did you mean polar, polyester, polypropylene or polystyrene?
                write polar =>   fb -- C2 22u polar -- gnd
                write polyester =>   fb -- C2 22u polyester -- gnd
                write polypropylene =>   fb -- C2 22u polypropylene -- gnd
                write polystyrene =>   fb -- C2 22u polystyrene -- gnd
            stage preamp: unknown: an attribute of C2 cannot be read
        "#]],
    );
    stage(
        "fb -- R3 R47 -- gnd",
        expect![[r#"
            11:12 unreadable-figure: R47 is the name of a part: as R3's value it has its digit in front, 0R47.
                write 0R47 =>   fb -- R3 0R47 -- gnd
            stage preamp: unknown: R3 has no value
        "#]],
    );
    stage(
        "fb -- C2 n47 -- gnd",
        expect![[r#"
            11:12 unreadable-figure: n47 is the name of a node: as C2's value it has its digit in front, 0n47.
                write 0n47 =>   fb -- C2 0n47 -- gnd
            stage preamp: unknown: C2 has no value
        "#]],
    );
}

#[test]
fn a_device_terminal_by_terminal() {
    stage(
        "U1b",
        expect![[r#"
        11:6 terminals-missing: `:` and its terminals are missing. …
        stage preamp: unknown: line 11 is unfinished
    "#]],
    );
    stage(
        "U1b fet_d",
        expect![[r#"
        11:12 terminals-missing: `:` and its terminals are missing. …
        stage preamp: unknown: line 11 is unfinished
    "#]],
    );
    stage(
        "U1b fet_dual: + gnd, -",
        expect![[r#"
        11:25 terminal-node-missing: The - input of U1b has no node yet. …
        stage preamp: unknown: line 11 is unfinished
    "#]],
    );
    stage(
        "U1b fet_dual: + gnd, - y,",
        expect![[r#"
        11:28 terminal-missing: out and its node are missing. …
        stage preamp: unknown: line 11 is unfinished
    "#]],
    );
    stage(
        "U1b fet_dual: + gnd, - y out y",
        expect![[r#"
        11:28 comma-missing: A `,` is missing before out.
            write , =>   U1b fet_dual: + gnd, - y, out y
        stage preamp: unknown: line 11 is unfinished
    "#]],
    );
    stage(
        "VR2 50k log: cw a, wip",
        expect![[r#"
        11:22 terminal-unknown: `wip` is no terminal of VR2 yet: wiper or ccw can follow. …
            write wiper =>   VR2 50k log: cw a, wiper
        stage preamp: unknown: line 11 is unfinished
    "#]],
    );
    stage(
        "fb -- C2 22u \"47 uF, 63 V",
        expect![[r#"
        11:16 quote-missing: The closing `"` is missing: the text runs to the line's end.
            write " =>   fb -- C2 22u "47 uF, 63 V"
        stage preamp: unknown: line 11 is unfinished
    "#]],
    );
}

#[test]
fn a_reading_word_by_word() {
    require(
        "ga",
        expect![[r#"
        13:3 quantity-unknown: `ga` is no quantity yet: gain or gain margin may be. …
            write gain =>   gain
        stage preamp: 20.8 … 26.4 dB over VR1
    "#]],
    );
    require(
        "gain in ->",
        expect![[r#"
        13:13 node-missing: A node is missing behind `->`. …
        stage preamp: 20.8 … 26.4 dB over VR1
    "#]],
    );
    require(
        "gain in -> fb",
        expect![[r#"
        stage preamp: 20.8 … 26.4 dB over VR1
    "#]],
    );
    require(
        "gain in -> fb at 1",
        expect![[r#"
        13:20 unreadable-figure: 1 of what? Hz or kHz.
            write 1 Hz =>   gain in -> fb at 1 Hz
            write 1 kHz =>   gain in -> fb at 1 kHz
        stage preamp: 20.8 … 26.4 dB over VR1
    "#]],
    );
    require(
        "gain in -> fb at 1 kHz =",
        expect![[r#"
        13:27 limit-missing: A limit is missing, as in 12 dB ± 0.5 dB. …
        stage preamp: 20.8 … 26.4 dB over VR1
    "#]],
    );
    require(
        "gain in -> fb at 1 kHz = 12 dB",
        expect![[r#"
        13:33 tolerance-missing: `=` wants a tolerance `±`, or a range `..`: no figure is met exactly. …
        stage preamp: 20.8 … 26.4 dB over VR1
    "#]],
    );
    require(
        "gain in -> fb over 20 Hz ..  < 3 dB",
        expect![[r#"
        13:30 band-end-missing: The band's upper end is missing.
        stage preamp: 20.8 … 26.4 dB over VR1
    "#]],
    );
    require(
        "noise out < -75 dBu",
        expect![[r#"
        13:9 of-missing: `of` is missing before out.
            write of =>   noise of out < -75 dBu
        stage preamp: 20.8 … 26.4 dB over VR1
    "#]],
    );
    require(
        "gain in -> fbb",
        expect![[r#"
        13:14 unknown-name: There is no node or pair called fbb.
        stage preamp: 20.8 … 26.4 dB over VR1
    "#]],
    );
    require(
        "gain in -> fb when VR1 30",
        expect![[r#"
            13:26 unreadable-figure: 30 of what? %.
                write 30 % =>   gain in -> fb when VR1 30 %
            stage preamp: 20.8 … 26.4 dB over VR1
        "#]],
    );
}

/// The file without lines to type, with something replaced.
fn weir(from: &str, to: &str, expected: Expect) {
    let text = WEIR.replace("  …\n", "");
    assert!(text.contains(from), "{from}");
    file(&text.replacen(from, to, 1), expected);
}

#[test]
fn the_beginning_of_a_heading_opens_nothing_yet() {
    // With entries below that can be read in the block above, and with such as cannot.
    weir(
        "require\n",
        "req\n",
        expect![[r#"
            11:1 heading-begun: `req` opens nothing yet: require would. …
                write require => require
            stage preamp: 20.8 … 26.4 dB over VR1
        "#]],
    );
    weir(
        "stage preamp: in -> out\n",
        "st\n",
        expect![[r#"
            6:1 heading-begun: `st` opens nothing yet: stage would. …
                write stage => stage
        "#]],
    );
    weir(
        "stage preamp: in -> out\n",
        "stag\n",
        expect![[r#"
            6:1 heading-begun: `stag` opens nothing yet: stage would. …
                write stage => stage
        "#]],
    );
    weir(
        "design\n",
        "d\n",
        expect![[r#"
            1:1 heading-begun: `d` opens nothing yet: design or datasheet would. …
                write design => design
                write datasheet => datasheet
            stage preamp: unknown: line 1 is unfinished
        "#]],
    );
    file(
        "require\n  gain in -> out\n\nstag\n  in -- R1 1k -- out\n  out -- R2 1k -- gnd\n",
        expect![[r#"
            4:1 heading-begun: `stag` opens nothing yet: stage would. …
                write stage => stage
        "#]],
    );
}

#[test]
fn a_heading_word_by_word() {
    let after = |heading: &str| WEIR.replace("  …\n", "").replace("stage preamp: in -> out", heading);
    file(
        &after("stage"),
        expect![[r#"
        6:6 name-missing: The name of a stage is missing. …
        stage stage 1: unknown: line 6 is unfinished
    "#]],
    );
    file(&after("stage pre"), expect![[""]]);
    file(
        &after("stage pre:"),
        expect![[r#"
        6:11 port-missing: An input is missing. …
        stage pre: unknown: line 6 is unfinished
    "#]],
    );
    file(
        &after("stage pre: in -"),
        expect![[r#"
        6:15 look-alike: `->` leads to the outputs, and only half of it stands here. …
            write -> => stage pre: in ->
        stage pre: unknown: line 6 is unfinished
    "#]],
    );
    file(
        &after("stage pre: in ->"),
        expect![[r#"
        6:17 port-missing: An output is missing behind `->`. …
        stage pre: unknown: line 6 is unfinished
    "#]],
    );
}

#[test]
fn a_stage_without_ports_is_unfinished_where_it_shares_a_node() {
    weir(
        "require\n",
        "stage load\n  out -- R9 10k -- gnd\nrequire\n",
        expect![[r#"
        11:7 ports-missing: load shares out with another stage and names no ports: `stage load: in -> out`. …
        stage preamp: unknown: line 11 is unfinished
    "#]],
    );
}

#[test]
fn a_heading_with_one_slip_opens_what_it_means() {
    weir(
        "stage preamp",
        "stgae preamp",
        expect![[r#"
        6:1 heading-misspelt: stgae opens no block: did you mean stage?
            write stage => stage preamp: in -> out
        stage preamp: 20.8 … 26.4 dB over VR1
    "#]],
    );
}

#[test]
fn entries_in_column_0_are_one_message_with_one_fix() {
    weir(
        "  out -- R2 10k -- VR1 10k lin -- fb\n  fb  -- R4",
        "out -- R2 10k -- fb\n\nfb -- R4",
        expect![[r#"
        9:1 entry-unindented: An entry is indented, and 2 of them stand in column 0 from here on.
            indent these 2 entries =>   out -- R2 10k -- fb /   fb -- R4 1k -- gnd
        stage preamp: 20.8 dB
    "#]],
    );
    weir(
        "  out -- R2 10k -- VR1 10k lin -- fb\n  fb  -- R4 1k -- gnd",
        "out -- R2 10k -- fb\nfb -- R4 1k\n-- gnd",
        expect![[r#"
        9:1 entry-unindented: An entry is indented, and 2 of them stand in column 0 from here on.
            indent these 2 entries =>   out -- R2 10k -- fb /   fb -- R4 1k /     -- gnd
        stage preamp: 20.8 dB
    "#]],
    );
    file(
        "in -- R1 1k -- out\nout -- R2 1k -- gnd\n",
        expect![[r#"
        1:1 entry-unindented: These 2 entries stand in column 0 and below no heading: is a `stage` heading missing above them?
            indent these 2 entries =>   in -- R1 1k -- out /   out -- R2 1k -- gnd
    "#]],
    );
}

#[test]
fn an_indented_heading_opens_its_block() {
    weir(
        "require\n",
        " require\n",
        expect![[r#"
        11:2 heading-indented: require opens a block, and a heading starts in column 0.
            start it in column 0 => require
        stage preamp: 20.8 … 26.4 dB over VR1
    "#]],
    );
}

#[test]
fn entries_whose_heading_is_gone_are_one_message() {
    weir(
        "design\n",
        "",
        expect![[r#"
            1:3 no-heading: These 3 lines are `design` entries: is a heading missing?
                write design above => design
            stage preamp: unknown: line 1 needs another name
        "#]],
    );
    let text = WEIR.replace("  …\n", "") + "  gain in -> fb\n";
    file(
        &text.replace("require\n", ""),
        expect![[r#"
        11:3 no-heading: These 2 lines are `require` entries: is a heading missing?
            write require above => require
        stage preamp: 20.8 … 26.4 dB over VR1
    "#]],
    );
    file(
        &text.replace("require\n", "\nformula\n"),
        expect![[r#"
        13:3 no-heading: These 2 lines are `require` entries: is a heading missing?
            write require above => require
        stage preamp: 20.8 … 26.4 dB over VR1
    "#]],
    );
    file(
        &(text.replace("\nstage preamp: in -> out\n", "")),
        expect![[r#"
        5:3 no-heading: These 4 lines are `stage` entries: is a heading missing?
            write stage unnamed above => stage unnamed
    "#]],
    );
}

#[test]
fn a_block_that_was_pasted_twice_is_one_message() {
    let text = WEIR.replace("  …\n", "");
    let (start, end) = (text.find("stage").unwrap(), text.find("require").unwrap());
    let block = &text[start..end];
    let pasted = |block: &str| format!("{}{block}{}", &text[..end], &text[end..]);
    // As it stood, with other ports, and with another value.
    file(
        &pasted(block),
        expect![[r#"
            11:7 repeated-stage: There are two stages called preamp: give one another name.
                make it a copy of preamp => use preamp as preamp_2: in -> out
            stage preamp, 0: unknown: there are two stages called preamp
        "#]],
    );
    let second = block
        .replace("preamp: in -> out", "second: in -> end")
        .replace(" out -", " end -")
        .replace("out out", "out end");
    file(
        &pasted(&second),
        expect![[r#"
            11:7 repeated-designator: Repeats 5 designators of preamp, R1 first: number these parts anew.
                number these parts anew =>   in  -- R5 1M -- gnd /   U2a fet_dual: + in, - fb, out end /   end -- R6 10k -- VR2 10k lin -- fb /   fb  -- R7 1k -- gnd
                make it a copy of preamp => use preamp as second: in -> end
            stage preamp: unknown: two parts are called U1a
        "#]],
    );
    file(
        &pasted(&second.replace("10k lin", "22k lin")),
        expect![[r#"
            11:7 repeated-designator: Repeats 5 designators of preamp, R1 first: number these parts anew.
                number these parts anew =>   in  -- R5 1M -- gnd /   U2a fet_dual: + in, - fb, out end /   end -- R6 10k -- VR2 22k lin -- fb /   fb  -- R7 1k -- gnd
            stage preamp: unknown: two parts are called U1a
        "#]],
    );
}

#[test]
fn both_ways_out_of_a_pasted_block_leave_nothing_to_say() {
    let text = WEIR.replace("  …\n", "");
    let (start, end) = (text.find("stage").unwrap(), text.find("require").unwrap());
    let second = text[start..end].replace("preamp: in -> out", "second: in -> end");
    let second = second.replace(" out -", " end -").replace("out out", "out end").replace("fb", "fc");
    let pasted = format!("{}{second}{}", &text[..end], &text[end..]);
    let mut bench = Workbench::new();
    bench.set_text("weir", pasted.clone());
    let fixes = bench.snapshot().problems("weir")[0].fixes.clone();
    assert_eq!(fixes.len(), 2);
    for fix in fixes {
        let mut mended = pasted.clone();
        fix.edits.iter().rev().for_each(|e| mended.replace_range(e.range.clone(), &e.text));
        bench.set_text("weir", mended.clone());
        assert_eq!(*bench.snapshot().problems("weir"), [], "{mended}");
    }
}

#[test]
fn a_part_that_is_there_already_gets_the_next_number() {
    stage(
        "fb -- R2 1k -- gnd",
        expect![[r#"
        11:9 repeated-designator: R2 is there already: a designator names one part.
            write R5 =>   fb -- R5 1k -- gnd
        stage preamp: unknown: two parts are called R2
    "#]],
    );
}

#[test]
fn a_line_that_continues_nothing_is_torn_by_itself() {
    stage(
        "  -- R5 1k -- gnd",
        expect![[r#"
        11:5 continues-nothing: `--` continues nothing: the entry above leaves off at a node, and a line joins it only at a part. Is its first line gone?
        stage preamp: unknown: line 11 is unfinished
    "#]],
    );
    stage(
        "\n  -- R5 1k -- gnd",
        expect![[r#"
        12:3 continues-nothing: `--` continues nothing: it joins the line right above it, and no entry stands there. Is its first line gone?
        stage preamp: unknown: line 12 is unfinished
    "#]],
    );
}

#[test]
fn blanks_and_line_ends_of_other_kinds_have_no_effect() {
    let text = WEIR.replace("  …\n", "");
    let plain = see(&text);
    assert_eq!(see(&text.replace("\n  ", "\n\t")), plain);
    assert_eq!(see(&text.replace("\n  ", "\n\u{A0}\u{2009}")), plain);
    assert_eq!(see(&text.replace(" -- R2 10k", "\u{A0}--\u{202F}R2\u{A0}10k")), plain);
    assert_eq!(see(&text.replace('\n', "\r\n")), plain);
    assert_eq!(see(&text.replacen('\n', "\r\n", 3)), plain);
    weir(
        "-- R4 1k -- gnd\n",
        "-- R4 1k -- gnd\r  fb -- R5 1k -- gnd\n",
        expect![[r#"
        10:22 lone-return: A carriage return stands here without its line feed: other programs show a new line where this one reads on.
            end the line here =>   fb  -- R4 1k -- gnd /   fb -- R5 1k -- gnd
        stage preamp: unknown: line 10 is unfinished
    "#]],
    );
}

#[test]
fn pasted_look_alikes_have_one_fix_each() {
    weir(
        "in  -- R1",
        "in – R1",
        expect![[r#"
        7:6 look-alike: `–` connects nothing: `--` does.
            write -- =>   in -- R1 1M -- gnd
        stage preamp: unknown: line 7 is unfinished
    "#]],
    );
    weir(
        "gain in -> out",
        "gain in → out at 1 kHz > −3 dB",
        expect![[r#"
        stage preamp: 20.8 … 26.4 dB over VR1
    "#]],
    );
}
