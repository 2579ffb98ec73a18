//! What a place in the text means: value, working, certainty.

use std::ops::Range;

use analysis::Reading;
use circuit::{Circuit, Given, NodeId, PartId, PartKind, Point, Quantity, StageId};
use quantity::{Style, Unit};

use crate::database::{
    Asked, Desk, Document, WayKey, assembled, circuit_of, inputs, layout, planned, reading, stage_quantities, way,
};
use crate::hints::{Resistors, blank, corner, seen_by};
use crate::hover_part;
use crate::hover_statement;
use crate::hover_word;
use crate::plain::Hover;
use crate::plots::small;
use crate::problems::range_of;

/// What stands at a byte: a name of the circuit with its figures, else a statement with what it comes to, else a word of the notation with
/// what it means.
///
/// Plots stand in it as characters, the first as a picture where `pictures` are shown.
pub fn hover(db: &dyn Desk, document: Document, offset: usize, pictures: bool) -> Option<Hover> {
    named(db, document, offset, pictures).or_else(|| {
        let word = hover_word::hover(document.text(db), &layout(db, document), offset);
        hover_statement::hover(db, document, offset, word.clone(), pictures).or(word)
    })
}

/// The part, stage, node, pair or setting at a byte.
fn named(db: &dyn Desk, document: Document, offset: usize, pictures: bool) -> Option<Hover> {
    let text = document.text(db);
    let range = word(text, offset)?;
    let said = &text[range.clone()];
    let circuit = circuit_of(db, document);
    let all = assembled(db, document);
    let layout = layout(db, document);
    let teller = Teller { db, document, circuit: &circuit };
    let body = if let Some(i) =
        all.places.part_names.iter().position(|p| range_of(&layout, *p).is_some_and(|r| r.contains(&offset)))
    {
        teller.part(PartId(i as u32))
    } else if let Some(i) =
        all.places.stages.iter().position(|p| range_of(&layout, *p).is_some_and(|r| r.contains(&offset)))
    {
        teller.stage(StageId(i as u32))
    } else if let Some(part) = circuit.parts.iter().position(|p| *p.name == *said) {
        teller.part(PartId(part as u32))
    } else if let Some(pair) = circuit.pair(said) {
        teller.place(
            &Point::pair(pair),
            &format!("the pair {said}: {} minus {}", circuit.node_name(pair.hot), circuit.node_name(pair.cold)),
        )
    } else if let Some(node) = circuit.node(said) {
        teller.node(node)
    } else if let Some(stage) = circuit.stage(said) {
        teller.stage(stage)
    } else if let Some(lines) = hover_part::named(&circuit, said, db.style()) {
        Some(Lines(vec![Paragraph::Head(said.to_string()), Paragraph::Reading { line: String::new(), working: lines }]))
    } else {
        let i = circuit.settings.iter().position(|s| *s.name == *said)?;
        teller.setting(i)
    };
    body.filter(|b| !b.is_empty()).map(|lines| render(range, lines, pictures))
}

/// The word around a byte: a name, a designator with its copies' prefix.
pub(crate) fn word(text: &str, offset: usize) -> Option<Range<usize>> {
    let offset = (0..=offset.min(text.len())).rev().find(|i| text.is_char_boundary(*i))?;
    let part = |c: char| c.is_alphanumeric() || c == '_' || c == '.';
    let start = text[..offset].char_indices().rev().take_while(|(_, c)| part(*c)).last().map_or(offset, |(i, _)| i);
    let end = text[offset..].find(|c| !part(c)).map_or(text.len(), |i| offset + i);
    let range = start..end;
    (!range.is_empty()).then_some(range)
}

/// A hover's paragraphs: the first is its head.
struct Lines(Vec<Paragraph>);

enum Paragraph {
    Head(String),
    Text(String),
    Reading { line: String, working: Vec<String> },
    Working(Vec<derivation::Line>),
    Drawn(Box<plot::Plot>),
}

impl Lines {
    fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
}

fn render(range: Range<usize>, lines: Lines, pictures: bool) -> Hover {
    let (mut markdown, mut plain, mut picture) = (Vec::new(), Vec::new(), None);
    for p in lines.0 {
        match p {
            Paragraph::Drawn(drawn) if pictures && picture.is_none() => picture = Some(small::picture(&drawn)),
            Paragraph::Drawn(drawn) => {
                let [marked, bare] = small::titled(&drawn);
                markdown.push(marked);
                plain.push(bare);
            }
            Paragraph::Head(t) => {
                markdown.push(format!("**{t}**"));
                plain.push(t);
            }
            Paragraph::Text(t) => {
                markdown.push(t.clone());
                plain.push(t);
            }
            Paragraph::Working(lines) => {
                let text = |line: &derivation::Line| derivation::page::line(line).trim_start().to_string();
                let marked = |line: &derivation::Line| match line {
                    derivation::Line::Prose(_) => text(line),
                    _ => format!("`{}`", text(line)),
                };
                markdown.push(format!(
                    "by hand:\n{}",
                    lines.iter().map(|l| format!("\n- {}", marked(l))).collect::<String>()
                ));
                plain.push(format!("by hand:{}", lines.iter().map(|l| format!("\n  {}", text(l))).collect::<String>()));
            }
            Paragraph::Reading { line, working } => {
                let list: String = working.iter().map(|w| format!("\n- {w}")).collect();
                // A list without a line above it needs no blank one either: clients that show Markdown as it is show every blank line.
                markdown.push(if line.is_empty() { list.trim_start().into() } else { format!("{line}\n{list}") });
                let list: String = working.iter().map(|w| format!("\n  {w}")).collect();
                plain.push(if line.is_empty() {
                    list.trim_start_matches('\n').into()
                } else {
                    format!("{line}{list}")
                });
            }
        }
    }
    Hover { range, markdown: markdown.join("\n\n"), plain: plain.join("\n"), picture }
}

fn reading_paragraph(r: &Reading, style: Style) -> Paragraph {
    Paragraph::Reading { line: r.line(style), working: r.working.clone() }
}

struct Teller<'a> {
    db: &'a dyn Desk,
    document: Document,
    circuit: &'a Circuit,
}

impl Teller<'_> {
    fn ask(&self, quantity: Quantity, setting: Option<u32>) -> Option<Paragraph> {
        reading(self.db, self.document, Asked::new(self.db, quantity, setting))
            .map(|r| reading_paragraph(&r, self.db.style()))
    }

    fn names(&self, nodes: &[NodeId]) -> String {
        nodes.iter().map(|n| self.circuit.node_name(*n)).collect::<Vec<_>>().join(", ")
    }

    fn stage(&self, id: StageId) -> Option<Lines> {
        let stage = &self.circuit.stages[id.at()];
        let arrow =
            if stage.outputs.is_empty() { String::new() } else { format!(" → {}", self.names(&stage.outputs)) };
        let mut lines = vec![Paragraph::Head(format!("stage {}: {}{arrow}", stage.name, self.names(&stage.inputs)))];
        let unread = || stage.unread.as_ref().map(|why| why.to_string());
        if let Some(why) = blank(self.db, self.document).or_else(|| self.circuit.doubled(id)).or_else(unread) {
            lines.push(Paragraph::Text(format!("unknown: {why}")));
            return Some(Lines(lines));
        }
        let (gain, impedance) = stage_quantities(self.circuit, id);
        let shape = gain.as_ref().and_then(|[gain, ..]| {
            let key = WayKey::new(self.db, way(self.db, self.document, gain, None));
            let (plan, inputs) = (planned(self.db, self.document, key)?, inputs(self.db, self.document, key)?);
            analysis::Factored::at_rest(&plan, &inputs)
        });
        for quantity in gain.into_iter().flatten().chain(impedance) {
            lines.extend(self.ask(quantity, None));
        }
        if let Some(out) = circuit::query::port_point(self.circuit, id, false) {
            lines.extend(self.ask(Quantity::OutputImpedance(id, out), None));
        }
        let whole = crate::database::whole(self.db, self.document);
        let circuit = circuit_of(self.db, self.document);
        let poles = whole.and_then(|w| analysis::measure::poles_of(&w, &circuit, id));
        let (poles, others) = poles.map_or((None, Vec::new()), |(told, others)| (Some(told), others));
        lines.extend(poles.map(Paragraph::Text));
        lines.extend(shape.and_then(|s| s.zeros_told(&others)).map(Paragraph::Text));
        let drawn = small::stage(self.db, self.document, id).into_iter();
        lines.extend(drawn.map(|plot| Paragraph::Drawn(Box::new(plot))));
        let by_hand = crate::derived::derived(self.db, self.document, id.0, false);
        if by_hand.found && !by_hand.short.is_empty() {
            lines.push(Paragraph::Working(by_hand.short.clone()));
        }
        Some(Lines(lines))
    }

    fn setting(&self, i: usize) -> Option<Lines> {
        let setting = &self.circuit.settings[i];
        let list: Vec<String> = setting
            .positions
            .iter()
            .map(|(c, p)| format!("{} {}", self.circuit.controls[c.at()].name, self.circuit.say(*c, *p)))
            .collect();
        let mut lines = vec![Paragraph::Head(format!("setting {}: {}", setting.name, list.join(", ")))];
        if blank(self.db, self.document).is_none()
            && let Some((a, b)) = crate::hints::ends(self.circuit)
        {
            lines.extend(self.ask(self.circuit.response(&a, &b), Some(i as u32)));
        }
        Some(Lines(lines))
    }

    fn node(&self, node: NodeId) -> Option<Lines> {
        let name = self.circuit.node_name(node);
        if node == circuit::GROUND {
            return Some(Lines(vec![
                Paragraph::Head("gnd, the reference node".into()),
                Paragraph::Text("every voltage is counted from here".into()),
            ]));
        }
        if let Some((_, volts)) = self.circuit.supplies.iter().flat_map(|s| &s.rails).find(|r| r.0 == node) {
            let volts = volts.number().and_then(|v| quantity::exact(v, Unit::Volt, Style::default()));
            return Some(Lines(vec![
                Paragraph::Head(format!("{name}, a rail")),
                Paragraph::Text(volts.unwrap_or_default()),
            ]));
        }
        self.place(&Point::node(self.circuit, node), &format!("node {name}"))
    }

    fn place(&self, point: &Point, head: &str) -> Option<Lines> {
        let mut lines = vec![Paragraph::Head(head.into())];
        let at = |n: &NodeId| point.terms.iter().any(|t| t.1 == *n);
        let parts: Vec<&str> =
            self.circuit.parts.iter().filter(|p| p.ends().iter().any(at)).map(|p| &*p.name).collect();
        if !parts.is_empty() {
            lines.push(Paragraph::Text(format!(
                "{} {} here",
                parts.join(", "),
                if parts.len() == 1 { "stands" } else { "stand" }
            )));
        }
        match blank(self.db, self.document) {
            Some(why) => lines.push(Paragraph::Text(format!("unknown: {why}"))),
            None => lines.extend(self.ask(Quantity::Impedance(point.clone()), None)),
        }
        Some(Lines(lines))
    }

    fn part(&self, id: PartId) -> Option<Lines> {
        let part = self.circuit.parts.get(id.at())?;
        let style = Style::default();
        let show = |g: &Given, unit: Unit| match g {
            Given::Number(x) => quantity::exact(*x, unit, style).unwrap_or_default(),
            Given::Unknown(why) => why.to_string(),
        };
        let between = |ends: &[NodeId]| format!("between {}", self.names(ends).replace(", ", " and "));
        let mut text = Vec::new();
        let head = match &part.kind {
            PartKind::Resistor { ends, ohms } => {
                text.push(between(ends));
                format!("{}, {}", part.name, show(ohms, Unit::Ohm))
            }
            PartKind::Capacitor { ends, farads, polar, .. } => {
                text.push(format!(
                    "{}{}",
                    between(ends),
                    if *polar { format!(", {} positive", self.circuit.node_name(ends[0])) } else { String::new() }
                ));
                text.extend(self.corner(id, *ends));
                format!("{}, {}", part.name, show(farads, Unit::Farad))
            }
            PartKind::Inductor { ends, henries } => {
                text.push(between(ends));
                text.extend(self.corner(id, *ends));
                format!("{}, {}", part.name, show(henries, Unit::Henry))
            }
            PartKind::Variable { ohms, taper, control, .. } => {
                let control = &self.circuit.controls[control.at()];
                if let Given::Number(r) = ohms {
                    for p in [0.0, 0.25, 0.5, 0.75, 1.0] {
                        text.push(format!(
                            "{} %: {} from ccw to the wiper",
                            p * 100.0,
                            quantity::computed(r * taper.share(p), Unit::Ohm, style).unwrap_or_default()
                        ));
                    }
                }
                text.push(format!("rests at {}", control.rest));
                format!("{}, {}", part.name, show(ohms, Unit::Ohm))
            }
            PartKind::Switch { control, contacts, .. } => {
                let control = &self.circuit.controls[control.at()];
                for (position, ends) in contacts {
                    text.push(format!(
                        "{position}: {} to {}",
                        self.circuit.node_name(ends[0]),
                        self.circuit.node_name(ends[1])
                    ));
                }
                text.push(format!("rests at {}", control.rest));
                format!("{}, a switch", part.name)
            }
            PartKind::Amplifier { sheet, plus, minus, out, .. } => {
                text.push(format!(
                    "+ {}, - {}, out {}",
                    self.circuit.node_name(*plus),
                    self.circuit.node_name(*minus),
                    self.circuit.node_name(*out)
                ));
                text.extend(data(sheet));
                format!("{}, {}", part.name, sheet.name)
            }
        };
        text.extend(hover_part::lines(self.circuit, part));
        let mut lines = vec![Paragraph::Head(head)];
        if part.unfitted {
            lines.push(Paragraph::Text("not fitted: on the parts list, not in the circuit".into()));
        }
        if part.external {
            lines.push(Paragraph::Text("external: in the circuit, not on the parts list".into()));
        }
        lines.push(Paragraph::Reading { line: String::new(), working: text });
        if blank(self.db, self.document).is_none() {
            let drawn = small::control(self.db, self.document, id);
            lines.extend(drawn.map(|plot| Paragraph::Drawn(Box::new(plot))));
        }
        Some(Lines(lines))
    }

    fn corner(&self, id: PartId, ends: [NodeId; 2]) -> Option<String> {
        if blank(self.db, self.document).is_some() {
            return None;
        }
        let part = &self.circuit.parts[id.at()];
        let seen = seen_by(self.db, self.document, id.at(), part, ends)?;
        corner(self.circuit, &Resistors::of(self.circuit), part, &seen, self.db.style()).map(|(_, tip)| tip)
    }
}

/// What a data sheet gives, and what it leaves to the ideal.
fn data(sheet: &circuit::Sheet) -> Vec<String> {
    if sheet.ideal {
        return vec!["ideal: no bandwidth, no output resistance, no input current".into()];
    }
    if let Some(why) = &sheet.unknown {
        return vec![why.to_string()];
    }
    let style = Style::default();
    let db = |f: &circuit::Figure| f.nominal().and_then(|x| quantity::decibels(quantity::db(x), style));
    let of = |f: &circuit::Figure, unit| f.nominal().and_then(|x| quantity::exact(x, unit, style));
    let rows = [
        ("open-loop gain", db(&sheet.open_loop_gain)),
        ("gain-bandwidth", of(&sheet.gain_bandwidth, Unit::Hertz)),
        ("output resistance", of(&sheet.output_resistance, Unit::Ohm)),
        ("input capacitance", of(&sheet.input_capacitance, Unit::Farad)),
        ("differential capacitance", of(&sheet.differential_capacitance, Unit::Farad)),
    ];
    let second =
        sheet.minimum_gain.nominal().filter(|g| *g > 1.0).zip(sheet.gain_bandwidth.nominal()).and_then(|(g, f)| {
            let f = 1.0 / (std::f64::consts::TAU * analysis::values::second_delay(g, f));
            let (times, f) = (quantity::ratio(g, style)?, quantity::computed(f, Unit::Hertz, style)?);
            Some(format!(
                "minimum gain {times}: a second pole at {f}, which leaves 45° of phase margin at that noise gain"
            ))
        });
    let mut lines: Vec<String> =
        rows.iter().filter_map(|(name, x)| x.as_ref().map(|x| format!("{name} {x} typ."))).collect();
    lines.extend(second);
    let left: Vec<&str> = rows.iter().filter(|(_, x)| x.is_none()).map(|(n, _)| *n).collect();
    if !left.is_empty() {
        lines.push(format!("not given, taken as ideal: {}", left.join(", ")));
    }
    lines
}
