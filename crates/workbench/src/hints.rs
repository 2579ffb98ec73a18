//! The short texts beside the lines: never a sentence, stable in width.

use std::cell::{Cell, OnceCell};
use std::cmp::Reverse;
use std::collections::HashMap;
use std::ops::Range;

use analysis::positions::{GLANCE, Hands};
use analysis::seen::Seen;
use analysis::{Inverts, Kind, Plan, Reading, Status, Value};
use circuit::{
    Circuit, ControlKind, Given, Let, LetValue, NodeId, Part, PartKind, Point, Quantity, SourceKind, StageId,
};
use notation::Name;
use notation::layout::Layout;
use notation::tree::{BlockKind, DesignEntry, EntryTree, Heading};
use quantity::{Style, Unit};

use crate::database::{
    Asked, Chunk, Desk, Document, PartAt, Read, Way, WayKey, assembled, circuit_of, drawn, layout, planned, reading,
    reads, seen, stage_quantities, way,
};
use crate::plain::{Hint, HintKind, Mark};
use crate::problems::{lines_of, torn};

/// The unknowns that the questions of one look solve at most, all together: some seconds' work. A design of stages between amplifiers
/// stays far below, since each of its questions solves its own stage.
const MOST_UNKNOWNS: usize = 200_000;

/// To plan a question takes as long as to solve an unknown for every so many numbers of the whole circuit.
const PLANNED: usize = 10_000;

/// Which hints are made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Which {
    /// All.
    All,
    /// Those that do not take a statement's reading, which may take its time.
    Quick,
}

/// Whether the statements of a file may take so long that nobody should wait for them: they look at every combination of the controls.
pub(crate) fn takes_long(db: &dyn Desk, document: Document) -> bool {
    let circuit = drawn(db, document);
    let all: Vec<_> = (0..circuit.controls.len() as u32).map(circuit::ControlId).collect();
    all.len() > 1
        && Hands::of(&circuit).count(&all).is_none_or(|n| n > GLANCE)
        && layout(db, document)
            .blocks
            .iter()
            .any(|b| matches!(b.kind, Some(BlockKind::Require | BlockKind::Formula | BlockKind::Assume)))
}

/// The hints of a file, or of a range of its bytes.
pub(crate) fn hints(db: &dyn Desk, document: Document, range: Option<Range<usize>>, which: Which) -> Vec<Hint> {
    let _running = analysis::meter::stage("hints");
    let layout = layout(db, document);
    let visible = |r: &Range<usize>| range.as_ref().is_none_or(|v| r.start <= v.end && v.start <= r.end);
    let all = assembled(db, document);
    let mut maker = Maker {
        db,
        document,
        circuit: circuit_of(db, document),
        layout: &layout,
        blank: blank(db, document),
        which,
        fixed: OnceCell::new(),
        hints: Vec::new(),
        solved: Cell::new(0),
        stages: all.places.stages.iter().enumerate().rev().map(|(s, p)| (p.block, s)).collect(),
        numbers: OnceCell::new(),
        curves: OnceCell::new(),
    };
    let reads = reads(db, document);
    for (b, (block, read)) in layout.blocks.iter().zip(reads.iter()).enumerate() {
        let chunks = || block.heading.iter().chain(&block.entries);
        if let (Some(first), Some(last)) = (chunks().next(), chunks().last())
            && !visible(&(first.range.start..last.range.end))
        {
            continue;
        }
        let (heading, entries) = (&read.heading, &read.entries);
        if let (Some(lines), Some(read)) = (&block.heading, heading)
            && visible(&lines.range)
            && let Read::Heading(h) = &**read
        {
            maker.heading(b as u32, &h.tree, lines.range.start, lines.line);
        }
        for (e, (lines, read)) in block.entries.iter().zip(entries).enumerate() {
            if let Read::Entry(entry, _) = &**read
                && visible(&lines.range)
            {
                maker.entry(&entry.tree, (b, e), lines.range.clone(), lines.line);
            }
        }
    }
    let mut counted = Counted::default();
    for (i, place) in all.places.parts.iter().enumerate() {
        // A copy's parts stand at the lines of their pattern, but for those that it replaces.
        if place.entry.is_none() {
            continue;
        }
        let Some(lines) = lines_of(&layout, *place).filter(|l| visible(&l.range)) else { continue };
        let at = lines.range.start + place.span.end as usize;
        maker.part(i, at, counted.line_of(document.text(db), lines.range.start, lines.line, at));
    }
    maker.hints.sort_by_key(|h| h.at);
    maker.hints
}

/// Counts lines up to a byte. It goes on from where it counted last: the parts of an entry come in the order in which they stand.
#[derive(Default)]
struct Counted {
    start: usize,
    at: usize,
    breaks: u32,
}

impl Counted {
    /// The line of a byte of a chunk that begins at `start` in `line`: a continued entry has several.
    fn line_of(&mut self, text: &str, start: usize, line: u32, at: usize) -> u32 {
        if self.start != start || self.at > at {
            *self = Counted { start, at: start, breaks: 0 };
        }
        self.breaks += text[self.at..at].bytes().filter(|b| *b == b'\n').count() as u32;
        self.at = at;
        line + self.breaks
    }
}

/// Why no figure of the circuit can be had.
pub(crate) fn blank(db: &dyn Desk, document: Document) -> Option<String> {
    if let Some(line) = torn(db, document) {
        let what = if misnamed(db, document) { "needs another name" } else { "is unfinished" };
        return Some(format!("line {} {what}", line + 1));
    }
    circuit_of(db, document).unknown.as_ref().map(|why| why.to_string())
}

/// Whether the line that is torn is so by a name that it cannot use, and is finished otherwise.
fn misnamed(db: &dyn Desk, document: Document) -> bool {
    let Some(place) = assembled(db, document).places.torn else { return false };
    let reads = reads(db, document);
    let Some(block) = reads.get(place.block as usize) else { return false };
    let read = match place.entry {
        Some(e) => block.entries.get(e as usize),
        None => block.heading.as_ref(),
    };
    let fault = read.and_then(|r| match &**r {
        Read::Heading(heading) => heading.fault.as_ref(),
        Read::Entry(entry, _) => entry.fault.as_ref(),
    });
    fault.is_some_and(|f| matches!(f.id, "reserved-name" | "value-behind-node") && !f.unfinished)
}

struct Maker<'a> {
    db: &'a dyn Desk,
    document: Document,
    circuit: std::sync::Arc<Circuit>,
    layout: &'a Layout,
    blank: Option<String>,
    which: Which,
    /// Made when the first corner asks for it.
    fixed: OnceCell<Resistors>,
    hints: Vec<Hint>,
    /// The unknowns of all questions asked so far.
    solved: Cell<usize>,
    /// The stages by the blocks of their headings, and `let` names and their curves at the reference, once somebody asks.
    stages: HashMap<u32, usize>,
    numbers: OnceCell<HashMap<Name, usize>>,
    curves: OnceCell<circuit::curves::Values>,
}

/// The places of `let` names in their list.
fn numbers(lets: &[Let]) -> HashMap<Name, usize> {
    lets.iter().enumerate().map(|(i, l)| (l.name.clone(), i)).collect()
}

/// The label of a figure that is not known.
fn unknown(why: &str) -> String {
    format!("unknown: {why}")
}

fn text(x: Option<String>) -> String {
    x.unwrap_or_else(|| "unknown".into())
}

fn mark(reading: &Reading) -> Mark {
    match reading.status {
        Status::Exact => Mark::Exact,
        Status::Typical(_) => Mark::Typical,
        Status::Unknown(_) => Mark::Unknown,
    }
}

/// A reading without its mark, which a heading carries once for all.
fn plain(r: &Reading, style: Style) -> String {
    r.short(style).trim_end_matches(" typ.").to_string()
}

/// A gain as a heading tells it: whether it turns the signal over stands beside the figure, in front of where that is taken. Where a control
/// turns it over it is told for where that rests.
fn turned(gain: &Reading, style: Style) -> String {
    let label = plain(gain, style);
    let sides = gain.range.as_ref().map(|r| r.inverts);
    match (sides, gain.inverts(), label.strip_suffix(" at rest")) {
        (Some(Inverts::Somewhere), true, _) => label + " inverted at rest",
        (Some(Inverts::Somewhere), false, _) => match gain.value {
            Value::Complex(z) if z.re < z.im.abs() => {
                let angle = text(quantity::degrees(z.arg().to_degrees(), style));
                format!("{} {angle} at rest", label.trim_end_matches(" at rest"))
            }
            _ => label + " in phase at rest",
        },
        (Some(Inverts::Nowhere), ..) | (None, false, _) => label,
        (None, true, Some(figure)) => format!("{figure} inverted at rest"),
        (Some(Inverts::Everywhere), ..) | (None, true, None) => label + " inverted",
    }
}

/// What a heading says: labels side by side, the weakest mark, the working of each.
struct Said {
    labels: Vec<String>,
    mark: Mark,
    working: Vec<String>,
}

impl Default for Said {
    fn default() -> Self {
        Said { labels: Vec::new(), mark: Mark::Exact, working: Vec::new() }
    }
}

impl Said {
    fn reading(&mut self, r: &Reading, label: String, style: Style) {
        let weight = |m: Mark| match m {
            Mark::Exact | Mark::Holds | Mark::Fails => 0,
            Mark::Typical => 1,
            Mark::Undecided => 2,
            Mark::Unknown => 3,
        };
        // A corner that is not known beside a gain that is does not make the heading unknown.
        let counts = !label.is_empty() || r.unknown().is_none();
        if counts && weight(mark(r)) > weight(self.mark) {
            self.mark = mark(r);
        }
        self.working.push(format!("{}\n  {}", r.line(style), r.working.join("\n  ")));
        self.labels.extend((!label.is_empty()).then_some(label));
    }
}

impl Maker<'_> {
    #[allow(clippy::too_many_arguments)]
    fn add(
        &mut self,
        key: String,
        at: usize,
        line: u32,
        label: String,
        kind: HintKind,
        mark: Mark,
        tooltip: Option<String>,
    ) {
        if !label.is_empty() {
            self.hints.push(Hint { key, at, line, label, kind, mark, tooltip });
        }
    }

    fn ask(&self, quantity: Quantity, setting: Option<u32>) -> Option<std::sync::Arc<Reading>> {
        self.count(way(self.db, self.document, &quantity, None));
        reading(self.db, self.document, Asked::new(self.db, quantity, setting))
    }

    /// Counts what a question solves. Where everything hangs together each of its questions takes in all of it.
    fn count(&self, way: Way) {
        let plan = planned(self.db, self.document, WayKey::new(self.db, way));
        let unknowns =
            plan.as_deref().and_then(Plan::local).map_or(0, |local| local.names.len() + local.count / PLANNED);
        self.solved.set(self.solved.get() + unknowns);
    }

    /// Why no further figure is worked out in this look; it can be had by itself.
    fn enough(&self) -> Option<String> {
        (self.solved.get() > MOST_UNKNOWNS).then(|| {
            "more figures hang together here than one look works out; a hover or `read` has this one".to_string()
        })
    }

    /// The end of an entry's text without a comment behind it.
    fn end(&self, start: usize) -> usize {
        let text = self.document.text(self.db);
        let line_end = text[start..].find(['\n', '\r']).map_or(text.len(), |i| start + i);
        let line = &text[start..line_end];
        let mut quoted = false;
        let cut = line.char_indices().find(|(_, c)| {
            quoted ^= *c == '"';
            *c == '#' && !quoted
        });
        start + line[..cut.map_or(line.len(), |c| c.0)].trim_end().len()
    }

    fn heading(&mut self, block: u32, heading: &Heading, start: usize, line: u32) {
        let at = self.end(start);
        match heading {
            Heading::Stage { name, .. } | Heading::Use { name, .. } => {
                let Some(stage) = self.stages.get(&block).map(|s| StageId(*s as u32)) else { return };
                let name = name
                    .as_ref()
                    .map_or_else(|| self.circuit.stages[stage.at()].name.to_string(), |n| n.text.to_string());
                self.stage(stage, format!("stage {name}"), at, line);
            }
            _ => {}
        }
    }

    /// `6.0 … 34.3 dB over VR1 · 7.2 Hz … 58 kHz · Zin 10 MΩ`
    fn stage(&mut self, stage: StageId, key: String, at: usize, line: u32) {
        if let Some(why) = self.circuit.doubled(stage) {
            // Under a key of its own each, so that no figure of one is ever shown for the other.
            let key = format!("{key}, {}", stage.at());
            return self.add(key, at, line, unknown(&why), HintKind::Stage, Mark::Unknown, None);
        }
        let unread = || self.circuit.stages[stage.at()].unread.as_ref().map(|why| why.to_string());
        if let Some(why) = self.blank.clone().or_else(unread).or_else(|| self.enough()) {
            return self.add(key, at, line, unknown(&why), HintKind::Stage, Mark::Unknown, None);
        }
        let (gain, impedance) = stage_quantities(&self.circuit, stage);
        let (mut said, style) = (Said::default(), self.db.style());
        if let Some([gain, low, high]) = gain
            && let (Some(gain), Some(low), Some(high)) =
                (self.ask(gain, None), self.ask(low, None), self.ask(high, None))
        {
            said.reading(&gain, gain.unknown().map_or_else(|| turned(&gain, style), unknown), style);
            if let (None, Some(corners)) = (gain.unknown(), corners(&low, &high, style)) {
                said.reading(&low, corners, style);
                said.reading(&high, String::new(), style);
            }
        }
        if let Some(z) = impedance.and_then(|q| self.ask(q, None)) {
            match z.unknown() {
                None => said.reading(&z, format!("Zin {}", plain(&z, style)), style),
                Some(why) if said.labels.is_empty() => said.reading(&z, unknown(why), style),
                Some(_) => {}
            }
        }
        let mut label = said.labels.join(" · ");
        if said.mark == Mark::Typical {
            label.push_str(" typ.");
        }
        let tooltip = (!said.working.is_empty()).then(|| said.working.join("\n"));
        self.add(key, at, line, label, HintKind::Stage, said.mark, tooltip);
    }

    fn entry(&mut self, tree: &EntryTree, here: (usize, usize), range: Range<usize>, line: u32) {
        let start = range.start;
        let at = self.end(start);
        match tree {
            EntryTree::Design(DesignEntry::Trim(Some(part), ..)) => self.trim(&part.part.text, at, line),
            EntryTree::Design(entry) => self.design(entry, at, line),
            EntryTree::Let(entry) => self.named_value(entry.name.as_ref().map_or("", |n| &n.text), at, line),
            // Whoever wants hints quickly has those of statements later.
            EntryTree::Assume(_) | EntryTree::Formula(_) | EntryTree::Require(_) if self.which == Which::Quick => {}
            EntryTree::Assume(_) => self.assumption(here, start, at, line),
            EntryTree::Formula(_) => self.formula(here, start, at, line),
            EntryTree::Require(_) => self.requirement(range, at, line),
            _ => {}
        }
    }

    /// Whether a formula is right, and what the assumptions cost it.
    fn formula(&mut self, (block, entry): (usize, usize), start: usize, at: usize, line: u32) {
        let said = self.document.text(self.db)[start..at].split_whitespace().collect::<Vec<_>>().join(" ");
        let all = crate::formulas::of(self.db, self.document, block, entry);
        let mut labels: Vec<String> = Vec::new();
        for formula in all.iter() {
            let label = match &formula.found {
                Ok(found) => found.hint(formula.kind, formula.unit),
                Err(why) => unknown(why),
            };
            if !labels.contains(&label) {
                labels.push(label);
            }
        }
        let mark = if all.iter().any(|f| f.found.as_ref().is_ok_and(|f| !f.holds())) {
            Mark::Fails
        } else if all.iter().any(|f| f.found.is_err()) {
            Mark::Unknown
        } else {
            Mark::Holds
        };
        let working = all.iter().flat_map(|f| match &f.found {
            Ok(found) => found.working(f.kind, f.unit),
            Err(why) => vec![why.clone()],
        });
        let working = working.collect::<Vec<_>>().join("\n");
        self.add(format!("formula {said}"), at, line, labels.join(" · "), HintKind::Statement, mark, Some(working));
    }

    /// What an assumption costs.
    fn assumption(&mut self, (block, entry): (usize, usize), start: usize, at: usize, line: u32) {
        let said = self.document.text(self.db)[start..at].split_whitespace().collect::<Vec<_>>().join(" ");
        let costs = crate::assumed::of(self.db, self.document, block, entry);
        let (label, mark, working) = match &*costs {
            Ok(costs) => {
                let mark = match costs.verdict() {
                    argument::Verdict::Holds => Mark::Holds,
                    argument::Verdict::Fails => Mark::Fails,
                    argument::Verdict::Unknown(_) => Mark::Unknown,
                };
                (costs.hint(), mark, costs.working().join("\n"))
            }
            Err(why) => (unknown(why), Mark::Unknown, why.clone()),
        };
        self.add(format!("assume {said}"), at, line, label, HintKind::Statement, mark, Some(working));
    }

    /// A requirement's reading, verdict and margin.
    fn requirement(&mut self, range: Range<usize>, at: usize, line: u32) {
        let text = self.document.text(self.db);
        let said = text[range.start..at].split_whitespace().collect::<Vec<_>>().join(" ");
        let chunk = Chunk::new(self.db, Some(BlockKind::Require), false, &text[range]);
        let all = crate::decided::decided(self.db, self.document, chunk);
        let Some(label) = crate::decided::hint(&all, self.db.style()) else { return };
        let is = |d: &crate::decided::Decided, test: fn(&argument::Verdict) -> bool| {
            d.decision.as_ref().is_some_and(|d| test(&d.verdict))
        };
        let mark = if all.iter().any(|d| is(d, |v| *v == argument::Verdict::Fails)) {
            Mark::Fails
        } else if all.iter().any(|d| d.lacks.is_some() || is(d, |v| matches!(v, argument::Verdict::Unknown(_)))) {
            Mark::Unknown
        } else if all.iter().all(|d| d.decision.is_some()) {
            Mark::Holds
        } else {
            Mark::Exact
        };
        let style = self.db.style();
        let working: Vec<String> = all
            .iter()
            .filter_map(|d| d.reading.as_ref())
            .map(|r| format!("{}\n  {}", r.line(style), r.working.join("\n  ")))
            .collect();
        self.add(format!("require {said}"), at, line, label, HintKind::Statement, mark, Some(working.join("\n")));
    }

    /// What a `let` name comes to.
    fn named_value(&mut self, name: &str, at: usize, line: u32) {
        let circuit = self.circuit.clone();
        let number = self.numbers.get_or_init(|| numbers(&circuit.lets)).get(name).copied();
        let Some(found) = number.map(|i| &circuit.lets[i]) else { return };
        let style = self.db.style();
        let key = format!("let {name}");
        let (label, mark) = match &found.value {
            LetValue::Value(term) => (worked_out(term, style), Mark::Exact),
            LetValue::Curve => {
                let s = num_complex::Complex64::new(0.0, std::f64::consts::TAU * circuit.reference);
                let curves = self.curves.get_or_init(|| circuit::curves::all_at(&circuit, s));
                let Some(Ok(term)) = curves.get(name) else { return };
                let hertz = text(quantity::computed(circuit.reference, Unit::Hertz, style));
                let value = if term.dimension.is_none() && term.value.norm() > 0.0 {
                    text(quantity::decibels(quantity::db(term.value.norm()), style))
                } else {
                    valued(term.value.norm(), term.dimension, style)
                };
                (format!("{value} at {hertz}"), Mark::Exact)
            }
            LetValue::Unknown(why) => (unknown(why), Mark::Unknown),
        };
        self.add(key, at, line, label, HintKind::Design, mark, None);
    }

    /// Where a preset ends up.
    fn trim(&mut self, part: &str, at: usize, line: u32) {
        let circuit = self.circuit.clone();
        let Some(control) = circuit.control(part) else { return };
        let failed = circuit.trims.iter().position(|t| t.control == control).and_then(|i| {
            let trimmed = crate::trim::trimmed(self.db, self.document);
            trimmed.faults.iter().find(|f| f.0 == i).map(|f| f.1.clause.clone())
        });
        // A trim that was not taken in: why stands with its control.
        let failed = failed.or_else(|| {
            circuit.parts.iter().find_map(|x| match &x.kind {
                PartKind::Variable { control: c, ohms: Given::Unknown(why), .. } if *c == control => {
                    Some(why.to_string())
                }
                _ => None,
            })
        });
        let label = match (self.blank.clone().or(failed), circuit.controls[control.at()].rest) {
            (Some(why), _) => (unknown(&why), Mark::Unknown),
            (None, circuit::Position::Travel(p)) => {
                let percent = text(quantity::computed(p * 100.0, Unit::Percent, self.db.style()));
                let track = circuit.parts.iter().find_map(|x| match &x.kind {
                    PartKind::Variable { control: c, ohms: Given::Number(r), taper, .. } if *c == control => {
                        quantity::computed(r * taper.share(p), Unit::Ohm, self.db.style())
                    }
                    _ => None,
                });
                (format!("set to {percent}{}", track.map_or_else(String::new, |r| format!(" ({r})"))), Mark::Exact)
            }
            (None, circuit::Position::Step(_)) => return,
        };
        self.add(format!("trim {part}"), at, line, label.0, HintKind::Design, label.1, None);
    }

    /// Hints of the design block; `true` where the entry has been dealt with.
    fn design(&mut self, entry: &DesignEntry, at: usize, line: u32) {
        let style = self.db.style();
        match entry {
            DesignEntry::Source { node: Some(node), .. } => {
                let Some(source) = self.circuit.sources.iter().find(|s| s.name == node.text) else { return };
                let (Some(level), SourceKind::Voltage) = (source.level, source.kind) else { return };
                let label = text(quantity::dbu_with_volts(level, style));
                self.add(format!("source {}", node.text), at, line, label, HintKind::Design, Mark::Exact, None);
            }
            DesignEntry::Band(Some(_), Some(_)) => {
                let label =
                    format!("reference {}", text(quantity::computed(self.circuit.reference, Unit::Hertz, style)));
                self.add("band".into(), at, line, label, HintKind::Design, Mark::Exact, None);
            }
            DesignEntry::Setting(Some(name), _) => {
                let number = self.circuit.settings.iter().position(|s| s.name == name.text);
                let (Some(number), Some((a, b))) = (number, ends(&self.circuit)) else { return };
                if self.blank.is_some() {
                    return;
                }
                let Some(r) = self.ask(self.circuit.response(&a, &b), Some(number as u32)) else { return };
                let label = match r.unknown() {
                    Some(why) => unknown(why),
                    None => format!(
                        "{} {} → {}{}",
                        plain(&r, style),
                        a.name,
                        b.name,
                        if mark(&r) == Mark::Typical { " typ." } else { "" }
                    ),
                };
                self.add(
                    format!("setting {}", name.text),
                    at,
                    line,
                    label,
                    HintKind::Design,
                    mark(&r),
                    Some(r.working.join("\n")),
                );
            }
            _ => {}
        }
    }

    fn part(&mut self, i: usize, at: usize, line: u32) {
        let circuit = self.circuit.clone();
        let Some(part) = circuit.parts.get(i) else { return };
        let key = format!("part {}", part.name);
        let style = self.db.style();
        // What an expression comes to, and what is fitted for it.
        let fitted = match &part.kind {
            PartKind::Resistor { ohms: Given::Number(x), .. } => Some((*x, Unit::Ohm)),
            PartKind::Capacitor { farads: Given::Number(x), .. } => Some((*x, Unit::Farad)),
            PartKind::Inductor { henries: Given::Number(x), .. } => Some((*x, Unit::Henry)),
            _ => None,
        };
        if let (Some(exact), Some((value, unit))) = (part.exact, fitted) {
            let [wanted, taken] = [exact, value].map(|x| text(quantity::computed(x, unit, style)));
            let label = if wanted == taken { format!("= {taken}") } else { format!("= {wanted} → {taken}") };
            let tip = format!("worked out: {wanted}; fitted: {taken}");
            self.add(format!("{key} value"), at, line, label, HintKind::Part, Mark::Exact, Some(tip));
        }
        match &part.kind {
            PartKind::Amplifier { sheet, .. } if sheet.ideal => {
                let tip = "nothing is missing, nothing is limited: a data sheet would tell its bandwidth".to_string();
                self.add(key, at, line, "ideal".into(), HintKind::Part, Mark::Exact, Some(tip));
            }
            PartKind::Variable { ohms: Given::Number(r), control, taper, .. } => {
                let control = &circuit.controls[control.at()];
                let (ControlKind::Travel(_), circuit::Position::Travel(p)) = (&control.kind, control.rest) else {
                    return;
                };
                let label =
                    format!("{} at {}", text(quantity::computed(r * taper.share(p), Unit::Ohm, style)), control.rest);
                let tip = "from the anticlockwise end to the wiper, at rest".to_string();
                self.add(key, at, line, label, HintKind::Part, Mark::Exact, Some(tip));
            }
            PartKind::Capacitor { ends, .. } | PartKind::Inductor { ends, .. }
                if !part.unfitted && self.blank.is_none() =>
            {
                if let Some(why) = self.enough() {
                    return self.add(key, at, line, unknown(&why), HintKind::Part, Mark::Unknown, None);
                }
                self.count(Way { quantity: across(part, *ends), from: None });
                let Some(seen) = seen_by(self.db, self.document, i, part, *ends) else { return };
                let fixed = self.fixed.get_or_init(|| Resistors::of(&circuit));
                if let Some((label, tip)) = corner(&circuit, fixed, part, &seen, style) {
                    self.add(key, at, line, label, HintKind::Part, Mark::Exact, Some(tip));
                }
            }
            _ => {}
        }
        let _ = self.layout;
    }
}

/// What an expression comes to; what is written in decibels stays in them.
pub(crate) fn worked_out(term: &circuit::expr::Term, style: Style) -> String {
    match term.level.map(|l| (l.unit, l.value)) {
        Some((Unit::Decibel, _)) => text(quantity::ratio_with_decibels(term.value.re, style)),
        Some((Unit::Dbu, _)) => text(quantity::dbu_with_volts(term.value.re, style)),
        Some((unit, value)) => text(quantity::computed(value, unit, style)),
        None => valued(term.value.re, term.dimension, style),
    }
}

/// A value with the unit of its dimension.
pub(crate) fn valued(x: f64, dimension: quantity::Dimension, style: Style) -> String {
    text(quantity::composed(x, dimension, style))
}

/// What a reactive part sees.
pub(crate) fn seen_by(
    db: &dyn Desk,
    document: Document,
    i: usize,
    part: &Part,
    ends: [NodeId; 2],
) -> Option<std::sync::Arc<Seen>> {
    seen(db, document, PartAt::new(db, i as u32, across(part, ends)))
}

/// The impedance between a part's ends.
fn across(part: &Part, ends: [NodeId; 2]) -> Quantity {
    let terms = [(1, ends[0]), (-1, ends[1])].into_iter().filter(|t| t.1 != circuit::GROUND).collect();
    Quantity::Impedance(Point { name: part.name.clone(), terms })
}

/// The fixed resistors of a circuit by their values, each with its place among the parts.
pub(crate) struct Resistors(Vec<(f64, usize)>);

impl Resistors {
    /// Those of `circuit` that have a value.
    pub(crate) fn of(circuit: &Circuit) -> Self {
        let ohms = |p: &Part| match p.kind {
            PartKind::Resistor { ohms: Given::Number(r), .. } => Some(r),
            _ => None,
        };
        let mut all: Vec<_> = circuit.parts.iter().enumerate().filter_map(|(i, p)| ohms(p).map(|r| (r, i))).collect();
        all.sort_by(|a, b| a.0.total_cmp(&b.0));
        Resistors(all)
    }

    /// The places of those within 2 % of `ohms`, in no order.
    fn near(&self, ohms: f64) -> impl Iterator<Item = usize> {
        let from = self.0.partition_point(|r| r.0 <= 0.98 * ohms);
        self.0[from..].iter().take_while(move |r| r.0 < 1.02 * ohms).map(|r| r.1)
    }
}

/// `7.2 Hz with R3`
pub(crate) fn corner(
    circuit: &Circuit,
    fixed: &Resistors,
    part: &Part,
    seen: &Seen,
    style: Style,
) -> Option<(String, String)> {
    match seen {
        Seen::Corner { hertz, ohms, range, controls, examined, combinations } => {
            let at = |f: f64| quantity::computed(f, Unit::Hertz, style);
            let sees = text(quantity::computed(*ohms, Unit::Ohm, style));
            let tip = format!("{} sees {sees} and makes a corner with it: {}", part.name, text(at(*hertz)));
            if !controls.is_empty() && range[1] > range[0] * 1.005 {
                let label = format!(
                    "{} over {}",
                    quantity::range(range[0], range[1], Unit::Hertz, style)?,
                    controls.join(", ")
                );
                let of_how_many = analysis::print::of_how_many(*examined, *combinations);
                let tip = format!("{tip}\n{examined} positions of {} examined{of_how_many}", controls.join(", "));
                return Some((label, tip));
            }
            // The resistor whose value this is, within 2 %, is the one that a person would name: of those that fit, the one that shares the
            // most of its ends; then one of the same stage; then the first written.
            let ends = part.ends();
            let shared = |p: &Part| p.ends().iter().filter(|n| **n != circuit::GROUND && ends.contains(n)).count();
            let near = |i: &usize| (shared(&circuit.parts[*i]), circuit.parts[*i].stage == part.stage);
            let with = fixed.near(*ohms).filter(|i| near(i) != (0, false)).max_by_key(|i| (near(i), Reverse(*i)));
            let with = with.map(|i| &circuit.parts[i]);
            let with = with.map(|p| &p.name);
            let with = with.map_or_else(String::new, |n| format!(" with {n}"));
            Some((format!("{}{with}", at(*hertz)?), tip))
        }
        Seen::Reactance(ohms, f) => {
            let label = format!(
                "{} at {}",
                quantity::computed(*ohms, Unit::Ohm, style)?,
                quantity::computed(*f, Unit::Hertz, style)?
            );
            Some((label, format!("{}'s own reactance; what it sees is no plain resistance", part.name)))
        }
        Seen::Nothing => None,
    }
}

/// The interval of frequency that holds at every position examined.
pub(crate) fn corners(low: &Reading, high: &Reading, style: Style) -> Option<String> {
    let worst = |r: &Reading, greatest: bool| -> Option<Option<f64>> {
        if r.unknown().is_some() {
            return None;
        }
        if let Some(range) = &r.range {
            let ends = range.ends.iter().filter_map(|e| e.value);
            return Some(if greatest { ends.reduce(f64::max) } else { ends.reduce(f64::min) });
        }
        Some(match r.value {
            Value::Real(f) => Some(f),
            _ => None,
        })
    };
    debug_assert!(low.kind == Kind::LowCorner && high.kind == Kind::HighCorner);
    let at = |f: f64| text(quantity::computed(f, Unit::Hertz, style));
    match (worst(low, true), worst(high, false)) {
        (Some(Some(a)), Some(Some(b))) => Some(format!("{} … {}", at(a), at(b))),
        (Some(Some(a)), _) => Some(format!("from {}", at(a))),
        (_, Some(Some(b))) => Some(format!("to {}", at(b))),
        _ => None,
    }
}

/// The design's own way: from its first source to where the signal ends.
pub(crate) fn ends(circuit: &Circuit) -> Option<(Point, Point)> {
    let source = circuit.sources.first()?;
    let a = match circuit.pair_of(source.plus, source.minus) {
        Some((pair, _)) => Point::pair(pair),
        None => Point::node(circuit, source.plus),
    };
    // The last stage without outputs is where a signal ends; else the last stage's outputs.
    let last = (0..circuit.stages.len()).rev().map(|i| StageId(i as u32));
    let sink =
        last.clone().find(|s| circuit.stages[s.at()].outputs.is_empty() && !circuit.stages[s.at()].inputs.is_empty());
    let b = match sink {
        Some(s) => circuit::query::port_point(circuit, s, true),
        None => last.clone().find_map(|s| circuit::query::port_point(circuit, s, false)),
    }?;
    (a.terms != b.terms).then_some((a, b))
}
