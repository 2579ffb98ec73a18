//! Pictures of the examples and of twenty more circuits: everything is there once, nothing runs through anything else, and what is joined
//! in the text is joined on the sheet and nothing besides.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use expect_test::expect;
use workbench::Workbench;
use workbench::drawing::{self, Circuit, Kind, Look, Point, Role, Sheet, Stands};

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

/// The designs, by name.
fn designs() -> Vec<(String, PathBuf)> {
    let mut all = Vec::new();
    for folder in ["examples", "tests/drawings"] {
        for entry in std::fs::read_dir(root().join(folder)).expect("the folder is there") {
            let path = entry.expect("a file").path();
            if path.extension().is_some_and(|e| e == "stage") {
                all.push((path.file_stem().expect("a name").to_string_lossy().into_owned(), path));
            }
        }
    }
    all.sort();
    assert!(all.len() >= 25, "{} designs", all.len());
    all
}

fn circuit(text: &str) -> Circuit {
    let mut bench = Workbench::new();
    bench.set_text("a.stage", text.to_string());
    bench.snapshot().drawn_out("a.stage").expect("it is open").as_ref().clone()
}

/// A box: left, top, right, bottom.
type Box4 = [f64; 4];

fn meets(a: Box4, b: Box4) -> bool {
    // A hair's breadth is no overlap.
    let e = 0.3;
    a[0] + e < b[2] && b[0] + e < a[2] && a[1] + e < b[3] && b[1] + e < a[3]
}

fn around(points: &[(f64, f64)]) -> Box4 {
    points.iter().fold([f64::MAX, f64::MAX, f64::MIN, f64::MIN], |b, (x, y)| {
        [b[0].min(*x), b[1].min(*y), b[2].max(*x), b[3].max(*y)]
    })
}

/// The runs of a path of straight lines; an arc stands for the box around it.
fn path(d: &str) -> Vec<Vec<(f64, f64)>> {
    let mut runs: Vec<Vec<(f64, f64)>> = Vec::new();
    let spaced: String =
        d.chars().flat_map(|c| if c.is_ascii_alphabetic() { vec![' ', c, ' '] } else { vec![c] }).collect();
    let words: Vec<&str> = spaced.split_whitespace().collect();
    let mut i = 0;
    let number = |i: usize| words[i].parse::<f64>().unwrap_or_else(|_| panic!("{d}"));
    while i < words.len() {
        match words[i] {
            "M" => {
                runs.push(vec![(number(i + 1), number(i + 2))]);
                i += 3;
            }
            "L" => {
                runs.last_mut().expect("begun").push((number(i + 1), number(i + 2)));
                i += 3;
            }
            "A" => {
                let (r, x, y) = (number(i + 1), number(i + 6), number(i + 7));
                let run = runs.last_mut().expect("begun");
                let (px, py) = *run.last().expect("begun");
                // Half a turn bulges by its radius to one side; both are counted.
                let (mx, my) = ((px + x) / 2.0, (py + y) / 2.0);
                if (px - x).abs() > (py - y).abs() {
                    run.push((mx, my - r))
                } else {
                    run.push((mx - r, my))
                }
                run.push((x, y));
                i += 8;
            }
            "Z" => i += 1,
            other => panic!("{other} in {d}"),
        }
    }
    runs
}

/// The room that an outline takes: a box, or for an amplifier's triangle as many as follow its slopes.
fn outline(points: &[(f64, f64)]) -> Vec<Box4> {
    let whole = around(points);
    if points.len() != 3 || whole[2] - whole[0] < 50.0 {
        return vec![whole];
    }
    let middle = (whole[1] + whole[3]) / 2.0;
    let (w, h) = (whole[2] - whole[0], (whole[3] - whole[1]) / 2.0);
    (0..10)
        .map(|i| f64::from(i) / 10.0)
        .map(|t| [whole[0] + t * w, middle - h * (1.0 - t), whole[0] + (t + 0.1) * w, middle + h * (1.0 - t)])
        .collect()
}

/// What a picture shows of a part or a node.
#[derive(Debug, Default)]
struct Shown {
    bodies: Vec<Box4>,
    texts: Vec<(Box4, String)>,
    wires: Vec<Vec<(f64, f64)>>,
}

/// The groups of a picture by their `id`; one that stands twice is an error.
fn groups(svg: &str) -> (BTreeMap<String, Shown>, [f64; 2]) {
    let tree = roxmltree::Document::parse(svg).expect("well-formed");
    let size =
        ["width", "height"].map(|a| tree.root_element().attribute(a).and_then(|v| v.parse().ok()).expect("a size"));
    let mut all = BTreeMap::new();
    for group in tree.root_element().children().filter(|n| n.has_tag_name("g")) {
        let id = group.attribute("id").expect("every group has a name").to_string();
        let mut shown = Shown::default();
        for node in group.children().filter(roxmltree::Node::is_element) {
            let number = |a: &str| node.attribute(a).and_then(|v| v.parse::<f64>().ok()).unwrap_or(0.0);
            let class = node.attribute("class").unwrap_or_default();
            match node.tag_name().name() {
                "path" if matches!(class, "wire" | "lead") => {
                    shown.wires.extend(path(node.attribute("d").expect("a path")))
                }
                "path" => shown.bodies.extend(outline(&path(node.attribute("d").expect("a path")).concat())),
                "circle" if class == "dot" => {}
                "circle" => {
                    let (x, y, r) = (number("cx"), number("cy"), number("r"));
                    shown.bodies.push([x - r, y - r, x + r, y + r]);
                }
                "text" => {
                    let said: String = node.descendants().filter(|n| n.is_text()).filter_map(|n| n.text()).collect();
                    let size = node
                        .attribute("style")
                        .and_then(|s| s.strip_prefix("font-size:")?.strip_suffix("px")?.parse().ok())
                        .unwrap_or(11.0);
                    // 0.58 of the height a character, from memory of common upright faces.
                    let w = node
                        .attribute("textLength")
                        .map_or(0.58 * size * said.chars().count() as f64, |_| number("textLength"));
                    let x = match node.attribute("text-anchor") {
                        Some("middle") => number("x") - w / 2.0,
                        Some("end") => number("x") - w,
                        _ => number("x"),
                    };
                    shown.texts.push(([x, number("y") - 0.72 * size, x + w, number("y") + 0.2 * size], said));
                }
                "rect" | "title" => {}
                other => panic!("{other} in {id}"),
            }
        }
        assert!(all.insert(id.clone(), shown).is_none(), "{id} stands twice");
    }
    (all, size)
}

fn looks(name: &str, circuit: &Circuit, svg: &str) -> Vec<String> {
    let mut faults = Vec::new();
    let (groups, [w, h]) = groups(svg);
    for part in &circuit.parts {
        if !groups.contains_key(&format!("part-{}", part.name)) {
            faults.push(format!("{name}: {} is missing", part.name));
        }
    }
    let parts = groups.keys().filter(|k| k.starts_with("part-")).count();
    if parts != circuit.parts.len() {
        faults.push(format!("{name}: {parts} parts are drawn of {}", circuit.parts.len()));
    }
    for (i, node) in circuit.nodes.iter().enumerate() {
        let used = circuit.parts.iter().any(|p| p.kind.nodes().contains(&i));
        let Some(shown) = groups.get(&format!("node-{}", node.name)) else {
            if used {
                faults.push(format!("{name}: node {} is missing", node.name));
            }
            continue;
        };
        // A node that the text names is named in the picture: beside its wire, at its symbol, or at the source that holds it.
        let named =
            shown.texts.iter().any(|(_, t)| *t == node.name) || circuit.sources.iter().any(|s| s.name == node.name);
        if used && !node.unnamed && node.role != Role::Ground && !named {
            faults.push(format!("{name}: node {} has no name", node.name));
        }
    }
    let all: Vec<(&String, &Shown)> = groups.iter().collect();
    for (k, (id, shown)) in all.iter().enumerate() {
        let boxes = || shown.bodies.iter().chain(shown.texts.iter().map(|(b, _)| b));
        for b in boxes().copied().chain(shown.wires.iter().map(|r| around(r))) {
            if b[0] < 0.0 || b[1] < 0.0 || b[2] > w || b[3] > h {
                faults.push(format!("{name}: {id} lies off the sheet: {b:?}"));
            }
        }
        for (t, (a, said)) in shown.texts.iter().enumerate() {
            if shown.texts[..t].iter().any(|(b, _)| meets(*a, *b)) {
                faults.push(format!("{name}: `{said}` of {id} lies over another text of its own"));
            }
        }
        for (other, there) in &all[..k] {
            for a in boxes() {
                for b in there.bodies.iter().chain(there.texts.iter().map(|(b, _)| b)) {
                    if meets(*a, *b) {
                        faults.push(format!("{name}: {id} lies over {other}: {a:?} {b:?}"));
                    }
                }
            }
        }
        for (other, there) in &all {
            for run in shown.wires.iter().flat_map(|r| r.windows(2)) {
                let line = around(run);
                let line = [line[0] - 0.5, line[1] - 0.5, line[2] + 0.5, line[3] + 0.5];
                let own = *id == *other;
                let bodies = there.bodies.iter().filter(|_| !own);
                for b in bodies.chain(there.texts.iter().map(|(b, _)| b)) {
                    if meets(line, *b) {
                        faults.push(format!("{name}: a wire of {id} runs through {other}: {line:?} {b:?}"));
                    }
                }
            }
        }
    }
    faults
}

/// Whether what belongs together is joined, and nothing else is: from the picture's wires and the pins of its symbols.
fn joins(name: &str, circuit: &Circuit, sheet: &Sheet) -> Vec<String> {
    let mut faults = Vec::new();
    // By point: which nodes' wires run there, and in which of the four ways.
    let mut ways: BTreeMap<Point, BTreeMap<usize, u8>> = BTreeMap::new();
    let mut frames = sheet.frames.iter().map(|f| f.area).collect::<Vec<_>>();
    frames.dedup();
    for (node, wires) in sheet.nodes.iter().enumerate() {
        for run in wires.lines.iter().flat_map(|l| l.windows(2)) {
            let (dx, dy) = ((run[1].x - run[0].x).signum(), (run[1].y - run[0].y).signum());
            if dx != 0 && dy != 0 {
                faults.push(format!("{name}: a wire of {} runs askew", circuit.nodes[node].name));
                continue;
            }
            let mut p = run[0];
            loop {
                let bits = ways.entry(p).or_default().entry(node).or_default();
                let (ahead, back) = match (dx, dy) {
                    (1, _) => (1, 2),
                    (-1, _) => (2, 1),
                    (_, 1) => (4, 8),
                    _ => (8, 4),
                };
                if p != run[1] {
                    *bits |= ahead;
                }
                if p != run[0] {
                    *bits |= back;
                }
                if p == run[1] {
                    break;
                }
                p = Point { x: p.x + 10 * dx, y: p.y + 10 * dy };
            }
        }
    }
    let mut pins: BTreeMap<Point, BTreeSet<usize>> = BTreeMap::new();
    for pin in sheet.symbols.iter().flat_map(|s| &s.pins) {
        pins.entry(pin.at).or_default().insert(pin.node);
    }
    for (p, nodes) in &pins {
        let wires = ways.get(p).into_iter().flatten().map(|(n, _)| *n);
        let here: BTreeSet<usize> = nodes.iter().copied().chain(wires).collect();
        if here.len() > 1 {
            let names: Vec<&str> = here.iter().map(|n| circuit.nodes[*n].name.as_str()).collect();
            faults.push(format!("{name}: {} meet at {p:?}", names.join(", ")));
        }
    }
    for (p, nodes) in &ways {
        let straight = |bits: u8| bits == 3 || bits == 12;
        if nodes.len() > 2
            || nodes.len() == 2 && (nodes.values().any(|b| !straight(*b)) || nodes.values().fold(0, |a, b| a ^ b) != 15)
        {
            faults.push(format!(
                "{name}: wires of {:?} touch at {p:?}",
                nodes.keys().map(|n| &circuit.nodes[*n].name).collect::<Vec<_>>()
            ));
        }
        for (node, bits) in nodes {
            let own_pins =
                sheet.symbols.iter().flat_map(|s| &s.pins).filter(|q| q.at == *p && q.node == *node).count() as u32;
            let dot = sheet.nodes[*node].dots.contains(p);
            // A node that goes through a stage's frame meets itself at the port.
            let meeting = bits.count_ones() + own_pins;
            if dot != (meeting > 2) && !(dot && meeting == 2 && frames.iter().any(|f| f.x0 == p.x || f.x1 == p.x)) {
                faults.push(format!("{name}: a dot is missing or too many at {p:?} of {}", circuit.nodes[*node].name));
            }
        }
    }
    for (node, of) in circuit.nodes.iter().enumerate() {
        if of.role != Role::Signal {
            continue;
        }
        // Pieces, by flooding; flags of one name join their pieces.
        let mut open: BTreeSet<Point> = ways.iter().filter(|(_, n)| n.contains_key(&node)).map(|(p, _)| *p).collect();
        open.extend(pins.iter().filter(|(_, n)| n.contains(&node)).map(|(p, _)| *p));
        let flags: BTreeSet<Point> = sheet
            .symbols
            .iter()
            .filter(|s| matches!(s.look, Look::Flag { .. }) && s.of == Stands::Node(node))
            .flat_map(|s| s.pins.iter().map(|p| p.at))
            .collect();
        let mut pieces = 0;
        let mut flagged = 0;
        while let Some(first) = open.pop_first() {
            pieces += 1;
            let mut has_flag = false;
            let mut todo = vec![first];
            while let Some(p) = todo.pop() {
                open.remove(&p);
                has_flag |= flags.contains(&p);
                let bits = ways.get(&p).and_then(|n| n.get(&node)).copied().unwrap_or(0);
                for (bit, dx, dy) in [(1, 10, 0), (2, -10, 0), (4, 0, 10), (8, 0, -10)] {
                    let q = Point { x: p.x + dx, y: p.y + dy };
                    if bits & bit != 0 && open.contains(&q) {
                        todo.push(q);
                    }
                }
            }
            flagged += usize::from(has_flag);
        }
        if pieces > 1 && flagged != pieces && !sheet.apart.contains(&node) {
            faults.push(format!("{name}: node {} is in {pieces} pieces, {flagged} with a flag", of.name));
        }
    }
    faults
}

#[test]
fn everything_is_there_once_and_in_nobodys_way() {
    let mut faults = Vec::new();
    let mut counted = String::new();
    for (name, file) in designs() {
        let circuit = circuit(&std::fs::read_to_string(file).expect("UTF-8"));
        let sheet = drawing::draw(&circuit, None);
        faults.extend(looks(&name, &circuit, &drawing::svg(&circuit, &sheet)));
        faults.extend(joins(&name, &circuit, &sheet));
        if !sheet.apart.is_empty() {
            faults.push(format!("{name}: not joined by wires: {:?}", sheet.apart));
        }
        counted +=
            &format!("{name}: {} parts, {} crossings, {} bends\n", circuit.parts.len(), sheet.crossings, sheet.bends);
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
    // What a picture takes in crossings and bends; more of either is to be looked at.
    expect![[r#"
        all-pass: 10 parts, 0 crossings, 8 bends
        balanced-driver: 15 parts, 1 crossings, 15 bends
        belfry-microphone: 26 parts, 0 crossings, 22 bends
        bird-box-low-pass: 13 parts, 0 crossings, 8 bends
        carillon-tone: 21 parts, 2 crossings, 10 bends
        difference: 7 parts, 0 crossings, 9 bends
        half-rail-headphone: 13 parts, 2 crossings, 15 bends
        impedance-converter: 9 parts, 0 crossings, 11 bends
        instrumentation: 10 parts, 0 crossings, 13 bends
        inverting: 4 parts, 0 crossings, 5 bends
        ladder-filter: 18 parts, 0 crossings, 5 bends
        multiple-feedback: 12 parts, 0 crossings, 8 bends
        nested-feedback: 13 parts, 0 crossings, 13 bends
        non-inverting-control: 10 parts, 0 crossings, 4 bends
        phantom-input: 11 parts, 0 crossings, 9 bends
        photodiode: 9 parts, 0 crossings, 7 bends
        record-equaliser: 11 parts, 0 crossings, 3 bends
        river-listener: 17 parts, 0 crossings, 12 bends
        sallen-key: 7 parts, 0 crossings, 4 bends
        school-laboratory: 13 parts, 0 crossings, 4 bends
        selector: 13 parts, 1 crossings, 6 bends
        state-variable: 12 parts, 2 crossings, 14 bends
        summing-mixer: 11 parts, 0 crossings, 4 bends
        tone-control: 11 parts, 1 crossings, 4 bends
        twin-t: 10 parts, 1 crossings, 12 bends
    "#]]
    .assert_eq(&counted);
}

#[test]
fn a_stage_alone_is_whole_too() {
    let mut faults = Vec::new();
    for (name, file) in designs() {
        let circuit = circuit(&std::fs::read_to_string(file).expect("UTF-8"));
        for (s, stage) in circuit.stages.iter().enumerate() {
            let sheet = drawing::draw(&circuit, Some(s));
            let drawn = sheet.symbols.iter().filter(|s| matches!(s.of, Stands::Part(_))).count();
            assert_eq!(drawn, circuit.parts.iter().filter(|p| p.stage == s).count(), "{name}, {}", stage.name);
            faults.extend(joins(&format!("{name}, {}", stage.name), &circuit, &sheet));
        }
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

/// Another value, another type: other texts, and nothing has moved.
#[test]
fn values_move_nothing() {
    for (name, file) in designs() {
        let before = circuit(&std::fs::read_to_string(file).expect("UTF-8"));
        let mut after = before.clone();
        for part in &mut after.parts {
            part.value =
                if matches!(part.kind, Kind::Amplifier { .. }) { "another_type".into() } else { "99.9 kΩ".into() };
        }
        let (a, b) = (drawing::draw(&before, None), drawing::draw(&after, None));
        assert_eq!(a.nodes, b.nodes, "{name}");
        assert_eq!((a.width, a.height), (b.width, b.height), "{name}");
        for (x, y) in a.symbols.iter().zip(&b.symbols) {
            assert_eq!((x.place, x.face, &x.pins), (y.place, y.face, &y.pins), "{name}: {}", x.name);
        }
    }
}

#[test]
fn the_same_text_gives_the_same_bytes() {
    let text = std::fs::read_to_string(root().join("examples/belfry-microphone.stage")).expect("UTF-8");
    let once = |text: &str| {
        let circuit = circuit(text);
        drawing::svg(&circuit, &drawing::draw(&circuit, None))
    };
    assert_eq!(once(&text), once(&text));
    assert!(!once(&text).contains("<script"));
}

/// What is unfinished is left out, and a note says so.
#[test]
fn a_torn_line_is_told() {
    let text = "stage a: in -> out\n  in -- R1 10k -- out\n  out -- R2 22k --\n";
    let circuit = circuit(text);
    assert!(circuit.notes.iter().any(|n| n.contains("line 3 is unfinished")), "{:?}", circuit.notes);
    let svg = drawing::svg(&circuit, &drawing::draw(&circuit, None));
    assert!(svg.contains("id=\"part-R1\"") && svg.contains("line 3 is unfinished"), "{svg}");
}

/// Copies, a value that is not there, names that mean something in SVG, and a file with nothing in it.
#[test]
fn odd_circuits_are_drawn_all_the_same() {
    let copies = "stage one: in -> out\n  in -- R1 10k -- out -- R2 1k -- gnd\nuse one as two: out -> far\n  R1 22k\n";
    let drawn = circuit(copies);
    let svg = drawing::svg(&drawn, &drawing::draw(&drawn, None));
    assert!(svg.contains("id=\"part-two.R1\"") && svg.contains("22 kΩ"), "{svg}");
    let open = circuit("stage one: in -> out\n  in -- R1 -- out\n");
    let svg = drawing::svg(&open, &drawing::draw(&open, None));
    assert!(svg.contains("R1 <tspan class=\"value\">?</tspan>"), "{svg}");
    let titled = circuit("design \"a < b & c\"\nstage one: in -> out\n  in -- R1 1k -- out\n");
    roxmltree::Document::parse(&drawing::svg(&titled, &drawing::draw(&titled, None))).expect("well-formed");
    let nothing = circuit("");
    roxmltree::Document::parse(&drawing::svg(&nothing, &drawing::draw(&nothing, None))).expect("well-formed");
}
