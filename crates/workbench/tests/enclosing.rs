//! What is folded, what encloses a place, and what leads out of a file.

mod said;

use std::collections::BTreeMap;

use said::bench;
use workbench::editing::links::LinkTo;

const TEXT: &str = "\
# a bell in a tower
# and its amplifier
include \"one.stage\"
include \"two.stage\"

design \"bell\"
  band   20 Hz .. 20 kHz
  supply vpos +12 V ± 5 %

# what it does
stage amp: in -> out
  in -- R1 10 kΩ 1% || C1 1n
    # over here
     -- R2 (2*R1 + 1k) -- out   # the end
  U1a tl072: + in, - left.fb, out out

datasheet mine: opamp   # https://example.org/mine.pdf, page 2
  gain bandwidth 3 MHz

require
  gain in -> out at 1 kHz = 12 dB ± 0.5 dB   # (see http://example.org/a(b).html).
";

/// Each fold as its first and last line, from 1, with what it is.
fn folds(text: &str) -> Vec<String> {
    let line = |at: usize| text[..at].matches('\n').count() + 1;
    let folds = bench(text).snapshot().folds("a");
    folds.iter().map(|f| format!("{}-{} {:?}", line(f.range.start), line(f.range.end), f.kind)).collect()
}

#[test]
fn blocks_entries_comments_and_includes_fold() {
    let expected =
        ["1-2 Comment", "3-4 Includes", "6-8 Block", "11-15 Block", "12-14 Entry", "17-18 Block", "20-21 Block"];
    assert_eq!(folds(TEXT), expected);
    assert_eq!(folds(&TEXT.replace('\n', "\r\n")), expected);
    // What hides nothing does not fold.
    assert_eq!(folds("stage amp: in -> out\n# one line\ninclude \"x\"\n"), [""; 0]);
    // The line that stays keeps its comment, and the last one goes as a whole.
    let folds = bench(TEXT).snapshot().folds("a");
    let sheet = folds.iter().find(|f| TEXT[..f.range.start].ends_with("page 2")).expect("the data sheet's fold");
    assert_eq!(&TEXT[sheet.range.clone()], "\n  gain bandwidth 3 MHz");
}

/// What encloses the place where `needle` stands, with the line ends written out.
fn around(needle: &str) -> Vec<String> {
    let at = TEXT.find(needle).expect("it stands there");
    let ranges = bench(TEXT).snapshot().around("a", at);
    assert!(ranges.windows(2).all(|w| w[1].start <= w[0].start && w[0].end <= w[1].end && w[0] != w[1]), "{ranges:?}");
    assert_eq!(ranges.last(), Some(&(0..TEXT.len())), "the file is the last");
    ranges.into_iter().map(|r| TEXT[r].replace('\n', "⏎")).take_while(|s| s.len() < 120).collect()
}

#[test]
fn a_selection_grows_from_the_word_to_the_file() {
    let path = "in -- R1 10 kΩ 1% || C1 1n⏎    # over here⏎     -- R2 (2*R1 + 1k) -- out";
    let commented = format!("{path}   # the end");
    assert_eq!(around("10 kΩ"), ["10", "10 kΩ", "R1 10 kΩ", "R1 10 kΩ 1%", "R1 10 kΩ 1% || C1 1n", path, &commented]);
    assert_eq!(around("R1 + 1k"), ["R1", "2*R1", "(2*R1 + 1k)", "R2 (2*R1 + 1k)", path, &commented]);
    let limit = "12 dB ± 0.5 dB";
    let require = format!("gain in -> out at 1 kHz = {limit}");
    assert_eq!(around("0.5 dB")[..4], ["0.5", "0.5 dB", limit, &require]);
    assert_eq!(around("fb, out")[..4], ["fb", "left.fb", "- left.fb", "+ in, - left.fb, out out"]);
    assert_eq!(around("the end")[..2], ["# the end", &*commented]);
    assert_eq!(around("a bell")[..2], ["# a bell in a tower", "# a bell in a tower⏎# and its amplifier"]);
    assert_eq!(around("+12 V")[1..4], ["+12 V", "+12 V ± 5 %", "vpos +12 V ± 5 %"]);
    assert_eq!(around("one.stage")[..2], ["one.stage", "\"one.stage\""]);
}

#[test]
fn includes_and_addresses_lead_out_of_the_file() {
    let mut bench = bench(TEXT);
    bench.set_text("/shelf/one.stage", "stage one: a -> b\n".into());
    let named = [("one.stage", Ok("/shelf/one.stage".to_string())), ("two.stage", Err("is not there".to_string()))];
    bench.set_included("a", named.map(|(w, p)| (w.to_string(), p)).into_iter().collect::<BTreeMap<_, _>>());
    let links = bench.snapshot().links("a");
    let links: Vec<(&str, String)> = links
        .iter()
        .map(|l| {
            let to = match &l.to {
                LinkTo::File(path) => path.clone(),
                LinkTo::Web(address) => address.clone(),
            };
            (&TEXT[l.range.clone()], to)
        })
        .collect();
    assert_eq!(
        links,
        [
            ("one.stage", "/shelf/one.stage".to_string()),
            ("https://example.org/mine.pdf", "https://example.org/mine.pdf".to_string()),
            ("http://example.org/a(b).html", "http://example.org/a(b).html".to_string()),
        ]
    );
}

#[test]
fn any_place_of_any_text_is_borne() {
    let odd = [
        "",
        "#",
        "\u{feff}# 🎚\r\n# Ω\r\nstage",
        "include \"",
        "include \"\"\ninclude\n",
        "stage a: in -> out\n  in - R1 10 kΩ -- 🎚\n\n\n# x\n  -- R2\n",
        "design\n  supply\n  band 20 Hz ..\n  accept\n",
        "require\n  gain a -> \n  (1 +\n# http:// https://x \"http://\"\n",
        "\n\n  in -- R1 1k\n",
    ];
    for text in odd.into_iter().map(String::from).chain([TEXT.to_string(), TEXT.replace('\n', "\r\n")]) {
        let snapshot = bench(&text).snapshot();
        for fold in snapshot.folds("a") {
            assert!(text.get(fold.range).is_some_and(|t| t.contains('\n')), "{text:?}");
        }
        assert!(snapshot.links("a").iter().all(|l| text.get(l.range.clone()).is_some_and(|t| !t.is_empty())));
        for at in 0..text.len() + 3 {
            let ranges = snapshot.around("a", at);
            assert_eq!(ranges.last(), Some(&(0..text.len())), "{text:?} {at}");
            assert!(ranges.iter().all(|r| text.get(r.clone()).is_some()), "{text:?} {at}");
            assert!(ranges.windows(2).all(|w| w[1].start <= w[0].start && w[0].end <= w[1].end && w[0] != w[1]));
        }
        let _ = workbench::editing::index::contents(&text);
    }
}

#[test]
fn an_index_holds_the_names_that_a_text_makes() {
    let found = workbench::editing::index::contents(TEXT);
    let names: Vec<String> = found
        .names
        .iter()
        .map(|n| format!("{:?} {} in {:?}: {}", n.kind, n.name, n.container, &TEXT[n.range.clone()]))
        .collect();
    assert_eq!(
        names,
        [
            "Design bell in \"\": \"bell\"",
            "Stage amp in \"\": amp",
            "Part R1 in \"amp\": R1",
            "Part C1 in \"amp\": C1",
            "Part R2 in \"amp\": R2",
            "Part U1a in \"amp\": U1a",
            "Sheet mine in \"\": mine",
        ]
    );
    let includes: Vec<&str> = found.includes.iter().map(|(range, _)| &TEXT[range.clone()]).collect();
    assert_eq!(includes, ["one.stage", "two.stage"]);
}
