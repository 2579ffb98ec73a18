//! A name gets another one: everywhere it stands, with the same readings behind it, and back again; or a sentence says why not.

mod said;

use said::shelf;
use workbench::{Edit, Snapshot};

fn owned(files: &[(&str, &str)]) -> Vec<(String, String)> {
    files.iter().map(|(p, t)| (p.to_string(), t.to_string())).collect()
}

/// A text with edits made, which stand in order.
fn edited(text: &str, edits: &[Edit]) -> String {
    assert!(edits.is_sorted_by(|a, b| a.range.end <= b.range.start), "in order and apart: {edits:?}");
    edits.iter().rfold(text.to_string(), |mut text, e| {
        text.replace_range(e.range.clone(), &e.text);
        text
    })
}

/// The files with the name at a byte of the first renamed.
fn renamed(files: &[(String, String)], at: usize, new: &str) -> Result<Vec<(String, String)>, String> {
    let edits = shelf(files).snapshot().rename(&files[0].0, at, new)?.expect("a name stands there");
    let one = |(path, text): &(String, String)| {
        let own = edits.iter().find(|r| r.path == *path);
        (path.clone(), own.map_or_else(|| text.clone(), |r| edited(text, &r.edits)))
    };
    Ok(files.iter().map(one).collect())
}

/// The first file's text after a rename at the `nth` place of `word`; or the sentence that refuses it.
fn to(files: &[(&str, &str)], word: &str, nth: usize, new: &str) -> Result<Vec<String>, String> {
    let (at, _) = files[0].1.match_indices(word).nth(nth).expect("the word stands there");
    Ok(renamed(&owned(files), at, new)?.into_iter().map(|(_, text)| text).collect())
}

const AMP: &str = "\
design
  source  in 1 mV
  supply  vpos +12 V, vneg -12 V
  balanced out: drive, mirror
  setting full: VR1 100 %
  accept  node used once for tap: \"a test point\"

let
  f_low = 10 Hz

stage amp: in -> drive
  in -- C1 (1 / (2*pi*R1*f_low)) -- grid -- R1 100k -- gnd
  U1a tl072: + grid, - fb, out drive
  drive -- VR1a 50k log -- fb
  drive -- VR1b 50k log -- tap
  fb -- R3 1k -- gnd

stage turn: drive -> mirror
  U1b tl072: + gnd, - sum, out mirror
  drive -- R4 10k -- sum -- R5 10k -- mirror

require
  gain in -> drive at (f_low) when full > 6 dB
  phase margin of U1a > 45 deg
  input impedance of amp > 10k
";

fn amp(word: &str, nth: usize, new: &str) -> Result<String, String> {
    to(&[("a", AMP)], word, nth, new).map(|mut texts| texts.remove(0))
}

#[test]
fn a_name_is_renamed_wherever_it_stands() {
    assert_eq!(amp("drive", 0, "high").unwrap(), AMP.replace("drive", "high"));
    assert_eq!(
        amp("R1*f_low", 0, "R11").unwrap(),
        AMP.replace("R1*", "R11*").replace(" R1 ", " R11 ").replace("VR11 ", "VR1 ")
    );
    assert_eq!(amp("f_low", 0, "bottom").unwrap(), AMP.replace("f_low", "bottom"));
    assert_eq!(amp("full >", 0, "most").unwrap(), AMP.replace("full", "most"));
    assert_eq!(amp("amp >", 0, "stick").unwrap(), AMP.replace("amp", "stick"));
    assert_eq!(amp("tap", 0, "point").unwrap(), AMP.replace("tap", "point"));
    assert_eq!(amp("vneg", 0, "lower").unwrap(), AMP.replace("vneg", "lower"));
    assert_eq!(amp("out:", 0, "pair").unwrap(), AMP.replace(" out:", " pair:"));
}

#[test]
fn whatever_stands_around_a_name_stays_as_it_is() {
    // A mark in front of the text, long line ends, letters of several bytes, no end of the last line.
    let odd = format!("\u{feff}# 🎚 µ\r\n{}", AMP.replace("10k", "10 kΩ").trim_end().replace('\n', "\r\n"));
    let renamed = to(&[("a", &odd)], "drive", 0, "high").expect("a rename");
    assert_eq!(renamed, [odd.replace("drive", "high")]);
    // What is unfinished is renamed with the rest, and what cannot be read stays.
    let torn = "stage amp: in -> out\n  in -- R1 10k -- out\n  out -- R2\n  out - 🎚 out\n  R1\n";
    let renamed = to(&[("a", torn)], "out", 0, "end").expect("a rename");
    assert_eq!(renamed, [torn.replace("out", "end")]);
}

#[test]
fn the_units_of_a_device_stay_together() {
    assert_eq!(amp("U1a", 0, "U3a").unwrap(), AMP.replace("U1a", "U3a").replace("U1b", "U3b"));
    assert_eq!(amp("VR1 100", 0, "VR7").unwrap(), AMP.replace("VR1", "VR7"));
    assert_eq!(amp("U1a", 0, "U1c").unwrap(), AMP.replace("U1a", "U1c"));
    assert_eq!(
        amp("U1a", 0, "U2").unwrap_err(),
        "U1a and U1b are one device, whose units have a letter each: U2 has none."
    );
    assert_eq!(
        amp("U1a", 0, "U2b").unwrap_err(),
        "U1b is another unit of the same device: U1a needs a letter of its own."
    );
    assert_eq!(
        amp("VR1 100", 0, "VR2a").unwrap_err(),
        "VR1 is what VR1a, VR1b share: its name has no letter, and VR2a has one."
    );
}

#[test]
fn what_cannot_be_a_name_is_refused_with_a_sentence() {
    for (word, new, said) in [
        ("drive", "at", "at is a word of the notation: no node can be called so."),
        ("drive", "stage", "stage opens a block: no node can be called so."),
        ("drive", "kHz", "kHz is a unit symbol: no node can be called so."),
        ("drive", "R7", "R7 has the shape of a part's name: no node can be called so."),
        ("drive", "gnd", "gnd is the reference node: a node that is called so is connected to it."),
        ("drive", "two words", "`two words` is no name: a name is one word of letters, digits and `_`."),
        ("drive", "", "A node has a name of one letter at least."),
        ("drive", "2nd", "2nd begins with a digit and would be read as a figure: a name begins with a letter."),
        ("drive", "a.b", "A dot stands between a copy and what is in it: a node has none in its own name."),
        ("drive", "fb", "fb is a node already, in line 13: the two would be connected."),
        ("drive", "vpos", "vpos is a node already, in line 3: the two would be connected."),
        ("drive", "out", "out is a node already, in line 4: the two would be connected."),
        (
            "drive",
            "ground",
            "As ground it would be at fault: ground is a node like any other; the reference node is called gnd.",
        ),
        ("R3", "C3", "R3 is a resistor: its name is R and a number. R6 is free."),
        ("R3", "upper", "R3 is a resistor: its name is R and a number. R6 is free."),
        ("U1a", "R1", "U1a is an operational amplifier: its name is U and a number. U2 is free."),
        ("R3", "R4", "R4 is a part already, in line 20: a designator names one part."),
        ("R3", "R4a", "R4a would be one device with R4 of line 20."),
        ("f_low", "pi", "pi means something of its own in an expression: a value needs another name."),
        ("amp:", "turn", "turn is a stage already, in line 18."),
        ("gnd", "earth", "gnd is the reference node, in every file: it keeps its name."),
        ("tl072", "mine", "tl072 is a type of the library, which keeps its names."),
    ] {
        assert_eq!(amp(word, 0, new), Err(said.into()), "{word} -> {new}");
    }
}

#[test]
fn a_name_that_stays_says_so_before_it_is_typed() {
    let snapshot = shelf(&owned(&[("a", AMP)])).snapshot();
    let prepared = |needle: &str| snapshot.prepare_rename("a", AMP.find(needle).unwrap());
    let at = AMP.find("drive").unwrap();
    assert_eq!(prepared("drive"), Ok(Some((at..at + 5, "drive".into()))));
    assert_eq!(prepared("require"), Ok(None));
    assert_eq!(prepared("50k"), Ok(None));
    assert!(prepared("gnd").is_err() && prepared("tl072").is_err());
}

const SHELF: &str = "\
stage half: a -> b
  a -- R1 1k -- mid
  mid -- R2 (2*R1) -- b
  mid -- R3 1k -- vref

datasheet quiet: opamp
  gain bandwidth 10 MHz
";

const DESIGN: &str = "\
include \"shelf.stage\"

design
  supply vref +5 V

use half as left: in -> out
  R1 2k

use half as right: out -> end

stage last: end -> far
  U1a quiet: + end, - left.mid, out far
  far -- R1 1k -- gnd

require
  gain in -> left.mid
  voltage of all R1, right.R2
";

#[test]
fn a_rename_follows_the_includes() {
    let both = |texts: Result<Vec<String>, String>| texts.unwrap();
    let files = [("shelf.stage", SHELF), ("design.stage", DESIGN)];
    assert_eq!(both(to(&files, "mid", 0, "tap")), [SHELF.replace("mid", "tap"), DESIGN.replace("mid", "tap")]);
    assert_eq!(both(to(&files, "half", 0, "pad")), [SHELF.replace("half", "pad"), DESIGN.replace("half", "pad")]);
    assert_eq!(both(to(&files, "quiet", 0, "low")), [SHELF.replace("quiet", "low"), DESIGN.replace("quiet", "low")]);
    assert_eq!(both(to(&files, "R2", 0, "R8")), [SHELF.replace("R2", "R8"), DESIGN.replace("R2", "R8")]);
    // What `all` takes in is one name.
    assert_eq!(both(to(&files, "R1", 0, "R8")), [SHELF.replace("R1", "R8"), DESIGN.replace("R1", "R8")]);
    // A rail of the one file that the pattern of the other hangs on.
    assert_eq!(
        both(to(&files, "vref", 0, "half_way")),
        [SHELF.replace("vref", "half_way"), DESIGN.replace("vref", "half_way")]
    );
    // The ports of a pattern and of its copies are wired in their order, whatever they are called.
    assert_eq!(
        both(to(&files, "a -> b", 0, "from_left")),
        [SHELF.replace("a ->", "from_left ->").replace("  a --", "  from_left --"), DESIGN.into()]
    );
    let files = [("design.stage", DESIGN), ("shelf.stage", SHELF)];
    assert_eq!(both(to(&files, "left.mid", 0, "first")), [DESIGN.replace("left", "first"), SHELF.into()]);
    assert_eq!(both(to(&files, "mid", 0, "tap")), [DESIGN.replace("mid", "tap"), SHELF.replace("mid", "tap")]);
}

#[test]
fn what_another_file_calls_so_is_refused() {
    let files = [("shelf.stage", SHELF), ("design.stage", DESIGN)];
    // Inside the pattern `out` is free; in the file that copies it, it is a port, which all copies would then share.
    assert_eq!(
        to(&files, "mid", 0, "out"),
        Err("out is a node already, in line 6 of design.stage: the two would be connected.".into())
    );
    assert_eq!(
        to(&[("design.stage", DESIGN), ("shelf.stage", SHELF)], "out", 0, "mid"),
        Err("mid is a node already, in line 2 of shelf.stage: the two would be connected.".into())
    );
    // A file's own stage goes before an included one.
    assert_eq!(to(&files, "half", 0, "last"), Err("last is a stage already, in line 11 of design.stage.".into()));
}

#[test]
fn a_name_that_two_things_have_is_left_alone_where_either_may_be_meant() {
    let text = "design\n  accept unstable for tone: \"so it is\"\n\nstage tone: in -> tone\n  in -- R1 1k -- tone\n  tone -- R2 1k -- gnd\n";
    assert_eq!(
        to(&[("a", text)], "tone:", 1, "bell"),
        Err("tone is a node and a stage, and the concession in line 2 may be for either: which of the two is renamed there is not for a tool to say.".into())
    );
}

/// All that is shown of a file: its hints, as an editor shows them, and its problems.
fn shown(snapshot: &Snapshot, path: &str) -> Vec<String> {
    let hints = snapshot.hints(path, None).into_iter().map(|h| format!("{}: {}", h.line, h.label));
    hints.chain(snapshot.problems(path).iter().map(|p| format!("{} {}", p.id, p.message))).collect()
}

/// A text without the words that a rename may have put in it, in either direction.
fn modulo(text: &str, names: &[&str]) -> String {
    let mut out = String::new();
    let mut word = String::new();
    let part = |c: char| c.is_alphanumeric() || c == '_';
    for c in text.chars().chain(['\n']) {
        if part(c) {
            word.push(c);
            continue;
        }
        out.push_str(if names.contains(&word.as_str()) { "NAME" } else { &word });
        word.clear();
        out.push(c);
    }
    out
}

/// Three files with every way that names meet over `include`: copies of copies, a rail and an end of a pair that a pattern takes from the file that
/// copies it, a part that only that file has, `all`, a data sheet that goes before another of its name, units of a gang in a copy.
const STOCK: &str = "\
let
  share = 0.5

stage tilt: a -> b
  a -- R1 1k -- knee -- R2 (2*R1*share) -- b
  knee -- VR1a 10k lin -- half_way
  b -- VR1b 10k lin -- left_end
  knee -- R4 (R20) -- half_way

stage alone: p -> q
  p -- R1 1k -- q
  q -- R20 2k -- gnd

datasheet quiet: opamp
  gain bandwidth 10 MHz
";

const SHELF_TWO: &str = "\
include \"stock.stage\"

stage buffer: x -> y
  U1a quiet: + x, - y, out y
  y -- R1 10k -- knee -- R3 10k -- gnd
";

const TOP: &str = "\
include \"shelf.stage\"

design
  supply  half_way +5 V
  source  in 1 mV
  setting up: low.VR1 100 %, high.VR1 20 %
  setting all_up: all VR1 100 %
  balanced ends: left_end, far
  matched low.R1, high.R1 1 %
  accept  node used once for low.knee: \"so it is\"

let
  share = 2

use tilt as low: in -> mid
  R1 (R20 * share)

use low as high: mid -> out
  VR1a 20k lin

use buffer as last: out -> far

stage own: far, left_end -> end
  far -- R20 3k -- end
  left_end -- R21 1k -- end
  end -- R1 (low.R1 + high.R2) -- gnd

require
  gain in -> far when up
  gain low.knee -> high.knee
  voltage of all R1, low.R2
  phase margin of last.U1a
  input impedance of high
  impedance of ends
";

fn examples() -> Vec<(String, String)> {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples");
    let mut files: Vec<_> = std::fs::read_dir(folder).expect("the examples").flatten().map(|e| e.path()).collect();
    files.retain(|f| f.extension().is_some_and(|e| e == "stage"));
    files.sort();
    let read = |f: std::path::PathBuf| (f.display().to_string(), std::fs::read_to_string(&f).expect("a text"));
    files.into_iter().map(read).collect()
}

/// Every name of every example, renamed and renamed back: the text is the same again, and no figure is another.
#[test]
fn there_and_back_gives_the_same_text_and_the_same_readings() {
    let pair = owned(&[("design.stage", DESIGN), ("shelf.stage", SHELF)]);
    let back_to_front = owned(&[("shelf.stage", SHELF), ("design.stage", DESIGN)]);
    let alone = examples().into_iter().map(|file| vec![file]);
    let three = [("top.stage", TOP), ("shelf.stage", SHELF_TWO), ("stock.stage", STOCK)];
    let three = (0..3).map(|first| {
        let mut files = three;
        files.rotate_left(first);
        owned(&files)
    });
    let mut renames = 0;
    for files in alone.chain([owned(&[("a", AMP)]), pair, back_to_front]).chain(three) {
        let snapshot = shelf(&files).snapshot();
        let (path, text) = &files[0];
        let before: Vec<Vec<String>> = files.iter().map(|(path, _)| shown(&snapshot, path)).collect();
        // Where nothing is known, nothing is compared.
        assert!(
            before.iter().flatten().any(|line| line.contains(" dB")) || path == "stock.stage",
            "{path}: {before:?}"
        );
        let mut done: Vec<String> = Vec::new();
        let part_of_word = |c: char| c.is_alphanumeric() || c == '_';
        let begins = |at: &usize| {
            text.get(*at..).is_some_and(|t| t.starts_with(part_of_word)) && !text[..*at].ends_with(part_of_word)
        };
        for at in (0..text.len()).filter(begins) {
            let Ok(Some((range, old))) = snapshot.prepare_rename(path, at) else { continue };
            if range.start != at || done.contains(&old) {
                continue;
            }
            done.push(old.clone());
            let part = notation::tree::PartName::parse(&old).filter(|_| notation::has_part_shape(&old));
            let new = match &part {
                Some(p) => format!("{}987{}", p.class, p.unit.map_or_else(String::new, |u| u.to_string())),
                None => "renamed_so".to_string(),
            };
            let there = renamed(&files, at, &new).unwrap_or_else(|why| panic!("{path}: {old}: {why}"));
            assert_ne!(there, files, "{old}");
            let edits = &snapshot.rename(path, at, &new).unwrap().unwrap();
            let own = edits.iter().find(|r| r.path == *path).into_iter().flat_map(|r| &r.edits);
            let shift = |e: &workbench::Edit| e.text.len() as isize - e.range.len() as isize;
            let moved = own.filter(|e| e.range.start < at).map(shift).sum::<isize>();
            let back = renamed(&there, at.strict_add_signed(moved), &old)
                .unwrap_or_else(|why| panic!("{path}: {old} again: {why}"));
            assert_eq!(back, files, "{path}: {old}");
            renames += 1;
            // The figures take their time: of each file those of some renames are compared.
            if done.len() % if files.len() == 1 { 24 } else { 3 } != 1 {
                continue;
            }
            let device = |name: &str| name.trim_end_matches(|c: char| c.is_ascii_lowercase()).to_string();
            let mut names = vec![old.clone(), new.clone()];
            if part.is_some() {
                names.extend([device(&old), device(&new)]);
                names
                    .extend(('a'..='d').flat_map(|u| [format!("{}{u}", device(&old)), format!("{}{u}", device(&new))]));
            }
            let names: Vec<&str> = names.iter().map(String::as_str).collect();
            let other = shelf(&there).snapshot();
            for ((path, _), before) in files.iter().zip(&before) {
                let mut before: Vec<String> = before.iter().map(|line| modulo(line, &names)).collect();
                let mut after: Vec<String> = shown(&other, path).iter().map(|line| modulo(line, &names)).collect();
                before.sort();
                after.sort();
                assert_eq!(before, after, "{path}: {old}");
            }
        }
    }
    assert!(renames > 100, "{renames}");
}
