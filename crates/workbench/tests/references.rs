//! Where a name stands: what makes it, what drives it, what is driven by it, in one file and over `include`.

mod said;

use said::shelf;
use workbench::Where;

/// Marks the place that is asked about.
const CURSOR: char = '‸';

/// Takes the cursor out of the files: which file it stood in, and where.
fn cut(files: &[(&str, &str)]) -> (Vec<(String, String)>, String, usize) {
    let mut asked = None;
    let plain = files.iter().map(|(path, text)| {
        if let Some(at) = text.find(CURSOR) {
            asked = Some((path.to_string(), at));
        }
        (path.to_string(), text.replace(CURSOR, ""))
    });
    let plain = plain.collect();
    let (path, at) = asked.expect("a cursor stands somewhere");
    (plain, path, at)
}

/// All places as `file:line word`, from line 1, with `*` where the name is made and `!` where it is driven.
fn places(files: &[(&str, &str)]) -> Vec<String> {
    let (plain, path, at) = cut(files);
    let plain: Vec<(&str, &str)> = plain.iter().map(|(p, t)| (&**p, &**t)).collect();
    let text = |path: &str| plain.iter().find(|(p, _)| *p == path).unwrap().1;
    let one = |found: workbench::editing::names::Occurrence| {
        let (file, text) = match &found.place {
            Where::Here => (path.clone(), text(&path)),
            Where::File(file, _) => (file.clone(), text(file)),
            Where::Library(file, text) => (file.to_string(), *text),
        };
        let line = text[..found.range.start].matches('\n').count() + 1;
        let marks = format!("{}{}", if found.makes { "*" } else { "" }, if found.drives { "!" } else { "" });
        format!("{file}:{line} {}{marks}", &text[found.range])
    };
    shelf(&plain).snapshot().occurrences(&path, at).into_iter().map(one).collect()
}

const AMP: &str = "\
design
  source  in 1 mV
  supply  vpos +12 V, vneg -12 V
  setting full: VR1 100 %
  trim    VR2: gain in -> drive = 20 dB
  accept  node used once for tap: \"a test point\"

let
  f_low = 10 Hz

stage amp: in -> drive
  in -- C1 (1 / (2*pi*R1*f_low)) -- grid -- R1 100k -- gnd
  U1a tl072: + grid, - fb, out drive
  drive -- VR1a 50k log -- VR2 1k -- fb
  drive -- VR1b 50k log -- tap
  fb -- R3 1k -- gnd

formula
  gain in -> drive = 1 + VR1a / R3

require
  gain in -> drive at (f_low) when full, VR1 50 % > 6 dB
  phase margin of U1a > 45 deg
  input impedance of amp > 10k
";

/// The places of the name at the `nth` place where `word` stands.
fn of(word: &str, nth: usize) -> Vec<String> {
    let (at, _) = AMP.match_indices(word).nth(nth).expect("the word stands there");
    let mut text = AMP.to_string();
    text.insert(at, CURSOR);
    places(&[("a", &text)])
}

#[test]
fn a_nodes_places_tell_what_drives_it() {
    assert_eq!(
        of("drive", 0),
        ["a:5 drive", "a:11 drive*!", "a:13 drive!", "a:14 drive", "a:15 drive", "a:19 drive", "a:22 drive"]
    );
    assert_eq!(of("in ", 0), ["a:2 in!", "a:5 in", "a:11 in*", "a:12 in", "a:19 in", "a:22 in"]);
    assert_eq!(of("vneg", 0), ["a:3 vneg*!"]);
    assert_eq!(of("tap", 0), ["a:6 tap", "a:15 tap*"]);
}

#[test]
fn a_parts_places_tell_what_sets_it() {
    assert_eq!(of("R3", 0), ["a:16 R3*!", "a:19 R3"]);
    assert_eq!(of("R1*f_low", 0), ["a:12 R1", "a:12 R1*!"]);
    assert_eq!(of("VR2", 0), ["a:5 VR2!", "a:14 VR2*!"]);
    // A unit goes with the shaft that moves it, and not with the other unit.
    assert_eq!(of("VR1a", 0), ["a:4 VR1!", "a:14 VR1a*!", "a:19 VR1a", "a:22 VR1"]);
    assert_eq!(of("VR1 ", 0), ["a:4 VR1!", "a:14 VR1a*!", "a:15 VR1b*!", "a:19 VR1a", "a:22 VR1"]);
}

#[test]
fn values_settings_stages_and_types_have_places_too() {
    assert_eq!(of("f_low", 1), ["a:9 f_low*!", "a:12 f_low", "a:22 f_low"]);
    assert_eq!(of("full", 0), ["a:4 full*!", "a:22 full"]);
    assert_eq!(of("amp:", 0), ["a:11 amp*!", "a:24 amp"]);
    let found = of("tl072", 0);
    assert_eq!(found[0], "a:13 tl072");
    assert!(found[1].starts_with("industry.stage:") && found[1].ends_with("tl072*!"), "{found:?}");
}

#[test]
fn words_of_the_notation_and_figures_are_no_names() {
    for word in ["design", "source", "50k", "log", "pi", "when", "margin", "> 45", "\"a test"] {
        let found = of(word, 0);
        assert!(found.is_empty(), "{word}: {found:?}");
    }
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

require
  gain in -> left.mid
  voltage of all R1, right.R2
";

#[test]
fn an_inner_nodes_places_are_found_by_the_copys_name() {
    let shelf = SHELF.replacen("mid", "m‸id", 1);
    assert_eq!(
        places(&[("design.stage", DESIGN), ("shelf.stage", &shelf)]),
        ["shelf.stage:2 mid*", "shelf.stage:3 mid", "shelf.stage:4 mid", "design.stage:12 mid", "design.stage:15 mid"]
    );
    // Of one copy's node the other copy's is another.
    let design = DESIGN.replace("far\n\nrequire", "far\n  right.mid -- R9 1M -- gnd\n\nrequire").replacen(
        "left.mid",
        "left.m‸id",
        1,
    );
    let found = places(&[("design.stage", &design), ("shelf.stage", SHELF)]);
    assert!(
        found.contains(&"shelf.stage:2 mid*".into()) && !found.contains(&"design.stage:13 mid".into()),
        "{found:?}"
    );
}

#[test]
fn a_copys_name_is_part_of_the_names_in_it() {
    let design = DESIGN.replacen("left.mid", "le‸ft.mid", 1);
    assert_eq!(
        places(&[("design.stage", &design), ("shelf.stage", SHELF)]),
        ["design.stage:6 left*!", "design.stage:12 left", "design.stage:15 left"]
    );
}

#[test]
fn a_patterns_part_has_places_where_it_is_copied() {
    let shelf = SHELF.replacen("R1 1k", "R‸1 1k", 1);
    assert_eq!(
        places(&[("design.stage", DESIGN), ("shelf.stage", &shelf)]),
        ["shelf.stage:2 R1*!", "shelf.stage:3 R1", "design.stage:7 R1!", "design.stage:16 R1"]
    );
    let design = DESIGN.replacen("right.R2", "right.R‸2", 1);
    assert_eq!(
        places(&[("design.stage", &design), ("shelf.stage", SHELF)]),
        ["design.stage:16 R2", "shelf.stage:3 R2*!"]
    );
}

#[test]
fn a_rail_that_a_pattern_takes_from_the_file_is_one_name() {
    let shelf = SHELF.replacen("vref", "v‸ref", 1);
    assert_eq!(
        places(&[("design.stage", DESIGN), ("shelf.stage", &shelf)]),
        ["shelf.stage:4 vref*", "design.stage:4 vref*!"]
    );
}

#[test]
fn an_included_data_sheet_has_places_where_its_type_is_used() {
    let design = DESIGN.replacen("quiet", "qui‸et", 1);
    assert_eq!(
        places(&[("design.stage", &design), ("shelf.stage", SHELF)]),
        ["design.stage:12 quiet", "shelf.stage:6 quiet*!"]
    );
}

#[test]
fn the_type_of_an_amplifier_is_its_data_sheet() {
    let (files, path, at) = cut(&[("design.stage", &DESIGN.replacen("U1a", "U‸1a", 1)), ("shelf.stage", SHELF)]);
    let plain: Vec<(&str, &str)> = files.iter().map(|(p, t)| (&**p, &**t)).collect();
    let found = shelf(&plain).snapshot().type_definition(&path, at).expect("a sheet");
    assert_eq!(found.place, Where::File("shelf.stage".into(), SHELF.into()));
    assert_eq!(&SHELF[found.name], "quiet");

    let snapshot = shelf(&[("a", AMP)]).snapshot();
    let found = snapshot.type_definition("a", AMP.rfind("U1a").unwrap()).expect("a sheet");
    let Where::Library(_, text) = found.place else { panic!("{found:?}") };
    assert_eq!(&text[found.name], "tl072");
    assert_eq!(snapshot.type_definition("a", AMP.find("R3").unwrap()), None);
}

#[test]
fn only_what_is_made_there_and_stands_in_one_file_is_typed_over_together() {
    let snapshot = shelf(&[("a", AMP)]).snapshot();
    let linked = |needle: &str| {
        let at = AMP.find(needle).expect("it stands there");
        snapshot.linked("a", at).map(|l| (l.ranges.iter().map(|r| &AMP[r.clone()]).collect::<Vec<_>>(), l.pattern))
    };
    assert_eq!(linked("R3 1k"), Some((vec!["R3", "R3"], "R[0-9]*[a-z]?".into())));
    assert_eq!(linked("f_low ="), Some((vec!["f_low"; 3], "[A-Za-z_][A-Za-z0-9_]*".into())));
    // A use of it, a node, a unit of a gang: what is typed there is something else, or would leave others behind.
    for needle in ["R3\n\nrequire", "drive\n  in", "VR1a 50k", "tl072"] {
        assert_eq!(linked(needle), None, "{needle}");
    }
    let files = shelf(&[("design.stage", DESIGN), ("shelf.stage", SHELF)]).snapshot();
    assert_eq!(files.linked("shelf.stage", SHELF.find("R1").unwrap()), None);
}

#[test]
fn half_typed_odd_and_empty_texts_are_borne() {
    for text in [
        "",
        "\u{feff}stage a: in -> out\r\n  in -- R1 10kΩ -- 🎚 -- out\r\n",
        "stage",
        "stage a:",
        "use a as a: x -> y\nuse a as b: x -> y\n",
        "use b as a: x -> y\nuse a as b: x -> y\nrequire\n  gain a.b.c -> b.a.c\n",
        "design\n  accept\n  balanced x\n  setting :\nlet\n  = 3\nrequire\n  gain\n",
        "stage a: in -> out\n  in - R1 1k -- out\n  U1a\n  VR1 50k log: cw\n",
        "use a as left: x -> y\n  left.R1 10k\n  R1 (2*left.R2*)\n",
    ] {
        let snapshot = shelf(&[("a", text)]).snapshot();
        for at in 0..=text.len() + 2 {
            for (range, _) in snapshot.highlighted("a", at) {
                assert!(text.get(range).is_some_and(|word| !word.is_empty()));
            }
            let _ = (snapshot.occurrences("a", at), snapshot.linked("a", at), snapshot.type_definition("a", at));
        }
    }
}

/// At every byte of every example: a name's places are that name, and the place asked about is one of them.
#[test]
fn every_place_of_every_example_is_true() {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples");
    let mut names = 0;
    for file in std::fs::read_dir(folder).expect("the examples").flatten().map(|e| e.path()) {
        let Ok(text) = std::fs::read_to_string(&file) else { continue };
        let snapshot = shelf(&[("a", &text)]).snapshot();
        let mut last = 0..0;
        for at in 0..=text.len() {
            if last.contains(&at) {
                continue;
            }
            let found = snapshot.highlighted("a", at);
            let Some((own, _)) = found.iter().find(|(range, _)| range.start <= at && at <= range.end) else {
                assert!(found.is_empty(), "{at} of {file:?} has places and is none of them");
                continue;
            };
            if *own == last {
                continue;
            }
            last = own.clone();
            names += 1;
            // The units of a device are told apart by their letters, and share the name without.
            let bare =
                |range: &std::ops::Range<usize>| text[range.clone()].trim_end_matches(|c: char| c.is_ascii_lowercase());
            let part = notation::has_part_shape(&text[own.clone()]);
            for (range, _) in &found {
                let same = text[range.clone()] == text[own.clone()] || (part && bare(range) == bare(own));
                assert!(same, "{} and {} in {file:?}", &text[range.clone()], &text[own.clone()]);
            }
            assert_eq!(snapshot.occurrences("a", at).iter().filter(|o| o.place == Where::Here).count(), found.len());
        }
    }
    assert!(names > 200, "{names}");
}
