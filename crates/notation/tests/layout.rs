//! Blocks and lines while they are being typed. What the layout says of whole broken files stands in `tests/err/*.layout`.

mod show;

use notation::tree::{BlockKind, Grade};
use notation::{lay_out, misplaced, read_entry, read_heading};

/// Kinds of the blocks, with how many entries each has.
fn blocks(text: &str) -> Vec<(Option<BlockKind>, usize)> {
    lay_out(text).blocks.iter().map(|b| (b.kind, b.entries.len())).collect()
}

/// What is said about the lines, in their order.
fn said(text: &str) -> Vec<String> {
    let layout = lay_out(text);
    let chunks = layout.blocks.iter().flat_map(|b| b.heading.iter().chain(&b.entries));
    chunks.filter_map(|c| c.fault.as_ref()).map(|f| f.message.clone() + if f.unfinished { " …" } else { "" }).collect()
}

#[test]
fn the_beginning_of_a_heading_opens_nothing() {
    let text = "require\n  gain a -> b\nst\n  fb -- R3 1k -- gnd\n";
    assert_eq!(blocks(text), [(Some(BlockKind::Require), 3)]);
    assert_eq!(said(text), ["`st` opens nothing yet: stage would. …"]);
}

#[test]
fn a_stage_heading_opens_its_block_however_unfinished() {
    for (heading, message) in [
        ("stage", "The name of a stage is missing. …"),
        ("stage pre:", "An input is missing. …"),
        ("stage pre: in ->", "An output is missing behind `->`. …"),
    ] {
        let text = format!("{heading}\n  fb -- R3 1k -- gnd\n");
        assert_eq!(blocks(&text), [(Some(BlockKind::Stage), 1)], "{heading}");
        let fault = read_heading(heading).fault.unwrap();
        assert_eq!(fault.message + if fault.unfinished { " …" } else { "" }, message);
    }
    // Its name alone is a whole heading: a stage may have no ports.
    assert_eq!(read_heading("stage pre").grade, Grade::Whole);
}

#[test]
fn a_heading_one_slip_away_opens_what_it_means() {
    let text = "stgae pre: in -> drive\n  in -- R3 1k -- drive\n";
    assert_eq!(blocks(text), [(Some(BlockKind::Stage), 1)]);
    assert_eq!(said(text), ["stgae opens no block: did you mean stage?"]);
    let heading = read_heading("stgae pre: in -> drive");
    assert_eq!((heading.grade, show::heading(&heading.tree).as_str()), (Grade::Whole, "stage pre: in -> drive"));
    // Without the shape of that heading it is an entry that stands in column 0.
    let text = "stage a\n  in -- R3 1k -- x\nstgae -- R4 1k -- gnd\n";
    assert_eq!(blocks(text), [(Some(BlockKind::Stage), 2)]);
}

#[test]
fn a_run_of_unindented_entries_is_told_once_and_mended_at_once() {
    let text = "stage a: in -> out\nin -- R1 1k -- x\nx -- R2 1k -- out\n  out -- R3 1k -- gnd\n";
    assert_eq!(blocks(text), [(Some(BlockKind::Stage), 3)]);
    assert_eq!(said(text), ["An entry is indented, and 2 of them stand in column 0 from here on."]);
    let layout = lay_out(text);
    let chunk = &layout.blocks[0].entries[0];
    let mended = text[..chunk.range.start].to_string()
        + &show::fixed(&text[chunk.range.start..], &chunk.fault.as_ref().unwrap().fixes[0]);
    assert_eq!(mended, "stage a: in -> out\n  in -- R1 1k -- x\n  x -- R2 1k -- out\n  out -- R3 1k -- gnd\n");
    assert_eq!(said(&mended), Vec::<String>::new());
}

#[test]
fn an_indented_heading_opens_its_block_all_the_same() {
    let text = "stage a\n  in -- R1 1k -- x\n require\n  noise of x\n";
    assert_eq!(blocks(text), [(Some(BlockKind::Stage), 1), (Some(BlockKind::Require), 1)]);
    let layout = lay_out(text);
    let heading = layout.blocks[1].heading.as_ref().unwrap();
    assert_eq!(read_heading(&text[heading.range.clone()]).grade, Grade::Whole);
    let fix = &heading.fault.as_ref().unwrap().fixes[0];
    assert_eq!(show::fixed(&text[heading.range.clone()], fix), "require");
}

#[test]
fn an_assumption_about_a_stage_is_no_heading() {
    let text = "assume\n  stage recorder open\n  stage b: in -> out\n  in -- R1 1k -- out\n";
    assert_eq!(blocks(text), [(Some(BlockKind::Assume), 1), (Some(BlockKind::Stage), 1)]);
}

#[test]
fn entries_below_a_lost_heading_are_told_once() {
    let misplaced = |kind, entries: &[&str]| {
        let graded: Vec<_> = entries.iter().map(|text| (*text, read_entry(kind, text).grade)).collect();
        misplaced(kind, &graded)
    };
    let entries = ["gain in -> out < 3 dB", "noise of out < 10 uV", "phase margin of U1a > 45 deg"];
    let found = misplaced(BlockKind::Formula, &entries);
    assert_eq!(found.len(), 1);
    assert_eq!(found[0].message(), "These 3 lines are `require` entries: is a heading missing?");
    let paths = ["in -- R1 1k -- out", "out -- C1 1n -- gnd"];
    assert_eq!(misplaced(BlockKind::Assume, &paths)[0].kind, BlockKind::Stage);
    assert!(misplaced(BlockKind::Assume, &paths[..1]).is_empty(), "one line may be anything");
    assert!(misplaced(BlockKind::Stage, &paths).is_empty());
    assert!(misplaced(BlockKind::Stage, &["fb 1k", "in 2k"]).is_empty(), "half a path is no line of a data sheet");
    let data = ["gain bandwidth 3 MHz", "slew rate 13 V/us"];
    assert_eq!(misplaced(BlockKind::Require, &data)[0].kind, BlockKind::Datasheet);
}

#[test]
fn a_lost_first_line_leaves_the_entry_above_whole() {
    let text = "stage a\n  in -- R1 1k -- out\n    -- R2 1k -- gnd\n";
    assert_eq!(
        said(text),
        [
            "`--` continues nothing: the entry above leaves off at a node, and a line joins it only at a part. Is its first line gone?"
        ]
    );
    let layout = lay_out(text);
    let above = &text[layout.blocks[0].entries[0].range.clone()];
    assert_eq!(read_entry(BlockKind::Stage, above).grade, Grade::Whole);
    let below = read_entry(BlockKind::Stage, &text[layout.blocks[0].entries[1].range.clone()]);
    assert_eq!((below.grade, show::entry(&below).as_str()), (Grade::Torn, "path ? | [R2 1k] | gnd"));
}

#[test]
fn a_device_is_continued_by_commas_only() {
    let text = "stage a\n  U1a x: + in, - fb\n    , out y\n  U1b x: + in, - fb, out z\n    -- R1 1k -- gnd\n";
    assert_eq!(blocks(text), [(Some(BlockKind::Stage), 3)]);
    assert_eq!(
        said(text),
        [
            "`--` continues nothing: the entry above leaves off at a node, and a line joins it only at a part. Is its first line gone?"
        ]
    );
}

#[test]
fn tabs_blanks_and_line_ends_make_no_difference() {
    let plain = "stage a: in -> out\n  in -- R1 1k\n    -- out\n  out -- R2 1k -- gnd\n";
    let trees = |text: &str| -> Vec<String> {
        let layout = lay_out(text);
        let entries = layout.blocks.iter().flat_map(|b| &b.entries);
        entries.map(|c| show::entry(&read_entry(BlockKind::Stage, &text[c.range.clone()]))).collect()
    };
    for other in [
        plain.replace('\n', "\r\n"),
        plain.replace("  ", "\t"),
        plain.replace("  ", "\u{a0} \t"),
        plain.replace("\n  out", "\r\n\tout"),
    ] {
        assert_eq!(trees(&other), trees(plain), "{other:?}");
        assert_eq!(said(&other), Vec::<String>::new());
        let layout = lay_out(&other);
        assert!(layout.blocks[0].entries.iter().all(|c| !other[c.range.clone()].ends_with('\r')));
    }
}

#[test]
fn a_comment_behind_an_entry_is_no_part_of_its_text() {
    let with = "stage a\n  in -- R1 1k -- out   # a # b\n  in -- R2 \"x # y\" -- out # c";
    let layout = lay_out(with);
    let texts: Vec<&str> = layout.blocks[0].entries.iter().map(|c| &with[c.range.clone()]).collect();
    assert_eq!(texts, ["in -- R1 1k -- out", "in -- R2 \"x # y\" -- out"]);
}

#[test]
fn a_pasted_dash_in_column_0_is_named_whole() {
    // It takes three bytes, and a place ends on the border of a character.
    for (text, mark) in [("stage x\n  a -- R1 1k\n– b", "–"), ("stage x\n  a -- R1 1k\n∥ R2 2k", "∥")] {
        let layout = lay_out(text);
        let chunk = layout.blocks[0].entries.last().unwrap();
        let fault = chunk.fault.as_ref().unwrap();
        assert_eq!(fault.id, "entry-unindented");
        assert_eq!(
            &text[chunk.range.start + fault.span.start as usize..chunk.range.start + fault.span.end as usize],
            mark
        );
    }
}
