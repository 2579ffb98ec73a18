//! A quantity phrase, resolved: names to nodes, stages, sources and controls.

use notation::tree::{
    Against, Amount, Clause, Fault, Grade, PartRef, PhraseSubject, Point as WrittenPoint, QuantityPhrase, Span, State,
    Thing, Word,
};
use quantity::Want;

use crate::circuit::{Circuit, ControlId, GROUND, NodeId, PartId, PartKind, Position, SourceId, StageId};
use crate::piece::{self, Reader, fault};
use crate::placed::{in_copies_only, placed, set, set_twice, unknown};
use crate::query::{Measure, Point, Quantity, Query, Weighting, When, port_point, print};

/// Why a phrase is no question yet.
#[derive(Clone, Debug, PartialEq)]
pub enum Refusal {
    /// Something in it cannot be meant.
    Wrong(Fault),
    /// It is unfinished, and its entry says so.
    Unfinished,
    /// This edition does not compute it: a clause for a person.
    Undecided(String),
}

/// Resolves a phrase: one question for each name behind `of`.
pub fn resolve(circuit: &Circuit, phrase: &QuantityPhrase) -> Result<Vec<Query>, Refusal> {
    let words = phrase.phrase.ok_or(Refusal::Unfinished)?;
    let mut resolver = Resolver { circuit, reader: Reader::new(Grade::Whole, Some(circuit)) };
    let mut base = Query {
        phrase: "".into(),
        quantity: Quantity::Impedance(Point { name: "".into(), terms: vec![] }),
        at: None,
        over: None,
        when: None,
        from: None,
        against: None,
        curve: None,
        weighting: None,
    };
    let mut from_word = None;
    for clause in &phrase.clauses {
        if let Some(fault) = crate::taken::misplaced(words, clause) {
            return Err(Refusal::Wrong(fault));
        }
        resolver.clause(words, clause, &mut base, &mut from_word)?;
    }
    let quantities = match &phrase.subject {
        PhraseSubject::FromTo(a, b) => {
            let (a, b) = (resolver.point(a.as_ref())?, resolver.point(b.as_ref())?);
            if let Some(word) = &from_word {
                base.from = Some(resolver.source(word)?);
            }
            vec![match words {
                "gain" => Quantity::Gain(a, b),
                "phase" => Quantity::Phase(a, b),
                "low corner" => Quantity::LowCorner(a, b),
                "high corner" => Quantity::HighCorner(a, b),
                "transimpedance" => Quantity::Transimpedance(a, b),
                "delay" => Quantity::Measure(Measure::Delay(a, b)),
                "flatness" => Quantity::Measure(Measure::Flatness(a, b)),
                "input noise" => Quantity::Measure(Measure::InputNoise(a, b)),
                "input noise density" => Quantity::Measure(Measure::InputNoiseDensity(a, b)),
                "rejection" => Quantity::Measure(Measure::Rejection(a, b)),
                _ => {
                    return Err(Refusal::Wrong(fault(
                        "phrase-form",
                        phrase.phrase_span,
                        format!("{words} is of one place: `{words} of {}`", a.name),
                    )));
                }
            }]
        }
        PhraseSubject::Of(things) if things.is_empty() => return Err(Refusal::Unfinished),
        PhraseSubject::Of(things) => {
            let of = |t: &Thing| resolver.thing(words, phrase, t, from_word.as_ref());
            let all: Vec<Vec<Quantity>> = things.iter().map(of).collect::<Result<_, _>>()?;
            let all: Vec<Quantity> = all.into_iter().flatten().collect();
            // Of an impedance `from` names a port; of a measure it names the source that drives alone.
            if let Some(word) = from_word.as_ref().filter(|_| all.iter().any(|q| matches!(q, Quantity::Measure(_)))) {
                base.from = Some(resolver.source(word)?);
            }
            all
        }
    };
    if let Some(wrong) = unusable(circuit, words, &quantities, &phrase.subject) {
        return Err(Refusal::Wrong(wrong));
    }
    if let Some((_, f)) = resolver.reader.findings.into_iter().find(|(w, _)| *w == piece::Weight::Error) {
        return Err(Refusal::Wrong(f));
    }
    if base.at.is_some() && matches!(words, "noise" | "input noise") {
        let message = format!(
            "{words} is a voltage over a band, and one frequency has none: `{words} density … at` is what there is of it there"
        );
        let mut wrong = fault("noise-at-frequency", phrase.phrase_span, message);
        let density = format!("{words} density");
        wrong.fixes.push(notation::tree::Fix {
            title: format!("write {density}"),
            edits: vec![(phrase.phrase_span, density)],
        });
        return Err(Refusal::Wrong(wrong));
    }
    if base.at.is_some() && base.over.is_some() {
        return Err(Refusal::Wrong(fault(
            "at-and-over",
            phrase.span,
            "a reading is taken at one frequency or over a band, not both",
        )));
    }
    // Of an impedance it is a port, which the question holds as its point.
    let port = from_word.filter(|_| base.from.is_none());
    let said = |quantity: &Quantity| print(circuit, words, quantity, &base, port.as_ref().map(|w| &*w.text));
    Ok(quantities
        .into_iter()
        .map(|quantity| Query { phrase: said(&quantity).into(), quantity, ..base.clone() })
        .collect())
}

/// A name that is there and cannot be what the quantity wants of it: a node for a pair, `gnd` for what drives.
fn unusable(circuit: &Circuit, words: &str, all: &[Quantity], subject: &PhraseSubject) -> Option<Fault> {
    let odd = all.iter().position(|q| match q {
        Quantity::Measure(Measure::Rejection(pair, _) | Measure::Balance(pair)) => {
            pair.ends().is_none_or(|(a, b)| a == GROUND || b == GROUND)
        }
        Quantity::Gain(a, _) | Quantity::Phase(a, _) | Quantity::LowCorner(a, _) | Quantity::HighCorner(a, _) => {
            a.terms.is_empty()
        }
        Quantity::Measure(Measure::Delay(a, _) | Measure::Flatness(a, _)) => a.terms.is_empty(),
        _ => false,
    })?;
    let (name, span) = match subject {
        PhraseSubject::FromTo(a, _) => {
            let terms = &a.as_ref()?.terms;
            let (first, last) = (&terms.first()?.1, &terms.last()?.1);
            (terms.iter().map(|t| &*t.1.text).collect::<Vec<_>>().join(" and "), first.span.to(last.span))
        }
        PhraseSubject::Of(things) => match things.get(odd)? {
            Thing::Name(word) => (word.text.to_string(), word.span),
            Thing::Part(part) => (part.part.text.to_string(), part.part.span),
        },
    };
    if !matches!(words, "rejection" | "balance") {
        let message = format!("{name} has no voltage to compare with: {words} leads from a node, a pair or a rail");
        return Some(fault("unusable-name", span, message));
    }
    // The declared pair that the node is one end of, else the only one there is.
    let holds = |p: &&crate::circuit::Pair| [p.hot, p.cold].into_iter().any(|n| circuit.node_name(n) == name);
    let near = circuit.pairs.iter().find(holds).or(if let [one] = &circuit.pairs[..] { Some(one) } else { None });
    let hint = near
        .map_or_else(|| "`balanced line: hot, cold` would declare one".into(), |p| format!("did you mean {}", p.name));
    let mut wrong = fault(
        "unusable-name",
        span,
        format!("{words} is of a pair, and {name} is no pair of two nodes beside gnd: {hint}"),
    );
    wrong.fixes.extend(
        near.map(|p| notation::tree::Fix {
            title: format!("write {}", p.name),
            edits: vec![(span, p.name.to_string())],
        }),
    );
    Some(wrong)
}

/// What a quantity is told in: what a limit or a target of it has to be.
pub fn want_of(phrase: &QuantityPhrase) -> Want {
    want_of_words(phrase.phrase.unwrap_or("gain"))
}

/// The same by the words of the quantity.
pub fn want_of_words(words: &str) -> Want {
    match words {
        "phase" | "phase margin" => Want::Angle,
        "delay" => Want::Time,
        "low corner" | "high corner" | "natural frequency" => Want::Frequency,
        "impedance" | "input impedance" | "output impedance" | "transimpedance" => Want::Resistance,
        "level" | "clip level" | "noise" | "input noise" => Want::Level,
        "noise density" | "input noise density" => Want::NoiseDensity,
        "offset" | "dc" | "voltage" => Want::Voltage,
        "current" | "supply current" => Want::Current,
        "power" | "dissipation" => Want::Power,
        "q" => Want::Number,
        "gain" => Want::Gain,
        _ => Want::Decibels,
    }
}

struct Resolver<'a> {
    circuit: &'a Circuit,
    reader: Reader<'a>,
}

impl Resolver<'_> {
    /// The lower end of a band: powers of noise are added up from 0 Hz too.
    fn lower_end(&mut self, words: &str, amount: &Option<Amount>) -> Result<Option<f64>, Refusal> {
        let noise = matches!(words, "noise" | "input noise");
        let none = noise && self.reader.amount(amount, Want::Frequency).is_some_and(|(f, _)| f == 0.0);
        if none { Ok(Some(0.0)) } else { self.frequency(amount) }
    }

    fn frequency(&mut self, amount: &Option<Amount>) -> Result<Option<f64>, Refusal> {
        if amount.is_none() {
            return Err(Refusal::Unfinished);
        }
        let f = self.reader.amount(amount, Want::Frequency).map(|x| x.0);
        if f.is_none() {
            return Err(self.refusal());
        }
        let wrong = f
            .zip(amount.as_ref())
            .and_then(|(f, a)| piece::frequency_fault(f, a.span(), "a frequency above 0 Hz is wanted here"));
        wrong.map_or(Ok(f), |fault| Err(Refusal::Wrong(fault)))
    }

    /// What is wrong with what was just read; where nothing was found, it is unfinished.
    fn refusal(&self) -> Refusal {
        let found = self.reader.findings.iter().find(|(w, _)| *w == piece::Weight::Error);
        match (found, &self.reader.elsewhere) {
            (Some((_, fault)), _) => Refusal::Wrong(fault.clone()),
            (None, Some(why)) => Refusal::Undecided(why.clone()),
            (None, None) => Refusal::Unfinished,
        }
    }

    fn clause(
        &mut self,
        words: &str,
        clause: &Clause,
        query: &mut Query,
        from: &mut Option<Word>,
    ) -> Result<(), Refusal> {
        match clause {
            Clause::At(amount) => query.at = self.frequency(amount)?,
            Clause::Over(low, high) => {
                let (a, b) = (self.lower_end(words, low)?, self.frequency(high)?);
                if let (Some(a), Some(b)) = (a, b) {
                    if a >= b {
                        let span = high.as_ref().map_or(Span::default(), Amount::span);
                        return Err(Refusal::Wrong(fault(
                            "band-order",
                            span,
                            "the band ends below its beginning: the lower frequency stands first",
                        )));
                    }
                    query.over = Some((a, b));
                }
            }
            Clause::When(states) => query.when = Some(self.when(states)?),
            Clause::From(word) => *from = Some(word.clone().ok_or(Refusal::Unfinished)?),
            Clause::Against(Some(Against::Amount(a))) if words.ends_with("corner") || words == "flatness" => {
                query.against = self.frequency(&Some(a.clone()))?
            }
            Clause::Against(Some(Against::Name(curve))) if words == "flatness" => {
                match self.circuit.lets.iter().find(|l| l.name == curve.text) {
                    Some(_) => query.curve = Some(curve.text.clone()),
                    None => {
                        let names = self.circuit.lets.iter().map(|l| &*l.name);
                        return Err(Refusal::Wrong(unknown(curve, "curve", names)));
                    }
                }
            }
            Clause::Against(Some(against)) => {
                let span = match against {
                    Against::Amount(a) => a.span(),
                    Against::Name(w) => w.span,
                };
                let message = format!("{words} is taken against nothing: `against` belongs to corners and to flatness");
                return Err(Refusal::Wrong(fault("against-of-other", span, message)));
            }
            Clause::Against(None) => return Err(Refusal::Unfinished),
            Clause::Weighted(w) if matches!(words, "noise" | "input noise") => {
                query.weighting = Some(if w.text.starts_with('A') { Weighting::A } else { Weighting::Itu468 });
            }
            Clause::Weighted(w) => {
                return Err(Refusal::Wrong(fault(
                    "weighting-of-gain",
                    w.span,
                    format!("{} weighs noise; {words} has none", w.text),
                )));
            }
        }
        Ok(())
    }

    fn when(&mut self, states: &[State]) -> Result<When, Refusal> {
        let mut when = When { name: "".into(), positions: Vec::new(), unread: Vec::new() };
        let mut names: Vec<String> = Vec::new();
        let mut told: Vec<(ControlId, Position)> = Vec::new();
        for state in states {
            match state {
                State::Setting(word) => {
                    let Some(setting) = self.circuit.settings.iter().find(|s| s.name == word.text) else {
                        return Err(Refusal::Wrong(unknown(
                            word,
                            "setting",
                            self.circuit.settings.iter().map(|s| &*s.name),
                        )));
                    };
                    names.push(setting.name.to_string());
                    for (control, position) in &setting.positions {
                        when.unread.retain(|u| u.0 != Some(*control));
                        set(&mut when.positions, *control, *position);
                    }
                    when.unread.extend(setting.unread.iter().cloned());
                }
                State::Control(..) => {
                    let Some(written) = piece::state(&mut self.reader, state) else { continue };
                    match placed(self.circuit, &written) {
                        Ok(all) if !all.is_empty() => {
                            let (control, position) = all[0];
                            if let Some((_, other)) = told.iter().find(|t| t.0 == control).filter(|t| t.1 != position) {
                                return Err(Refusal::Wrong(set_twice(self.circuit, &written, *other, position)));
                            }
                            told.push((control, position));
                            let all_of_them = if written.part.all { "all " } else { "" };
                            let place = self.circuit.say(control, position);
                            names.push(format!("{all_of_them}{} {place}", written.part.part.text));
                            for (control, position) in all {
                                when.unread.retain(|u| u.0 != Some(control));
                                set(&mut when.positions, control, position);
                            }
                        }
                        // What is wrong with the position was found when it was read.
                        Ok(_) => return Err(self.refusal()),
                        Err(fault) => return Err(Refusal::Wrong(fault)),
                    }
                }
            }
        }
        if names.is_empty() {
            return Err(Refusal::Unfinished);
        }
        when.name = names.join(", ").into();
        Ok(when)
    }

    fn source(&self, word: &Word) -> Result<SourceId, Refusal> {
        let found = self.circuit.sources.iter().position(|s| s.name == word.text);
        found
            .map(|i| SourceId(i as u32))
            .ok_or_else(|| Refusal::Wrong(unknown(word, "source", self.circuit.sources.iter().map(|s| &*s.name))))
    }

    fn point(&self, point: Option<&WrittenPoint>) -> Result<Point, Refusal> {
        let point = point.ok_or(Refusal::Unfinished)?;
        let mut terms: Vec<(i8, NodeId)> = Vec::new();
        let mut name = String::new();
        for (i, (minus, word)) in point.terms.iter().enumerate() {
            let sign: i8 = if *minus { -1 } else { 1 };
            if i > 0 {
                name.push_str(if *minus { " - " } else { " + " });
            }
            name.push_str(&word.text);
            match (self.circuit.pair(&word.text), self.circuit.node(&word.text)) {
                (Some(pair), _) => terms.extend([(sign, pair.hot), (-sign, pair.cold)]),
                (None, Some(node)) => terms.push((sign, node)),
                // That an end of the pair is not there is said where the pair is declared.
                (None, None) => {
                    let lost = self.circuit.lost_pairs.iter().find(|p| p.0 == word.text);
                    return Err(match lost {
                        Some((_, why)) => Refusal::Undecided(why.to_string()),
                        None => Refusal::Wrong(self.unknown_node(word)),
                    });
                }
            }
        }
        terms.retain(|t| t.1 != GROUND);
        Ok(Point { name: name.into(), terms })
    }

    fn unknown_node(&self, word: &Word) -> Fault {
        let nodes = self.circuit.nodes.iter().filter(|n| !n.unnamed).map(|n| &*n.name);
        unknown(word, "node or pair", nodes.chain(self.circuit.pairs.iter().map(|p| &*p.name)))
    }

    fn thing(
        &self,
        words: &str,
        phrase: &QuantityPhrase,
        thing: &Thing,
        from: Option<&Word>,
    ) -> Result<Vec<Quantity>, Refusal> {
        let of_part: Option<fn(PartId) -> Measure> = match words {
            "phase margin" => Some(Measure::PhaseMargin),
            "gain margin" => Some(Measure::GainMargin),
            "power" => Some(Measure::Power),
            "voltage" => Some(Measure::Voltage),
            "current" => Some(Measure::Current),
            _ => None,
        };
        if words == "dissipation" {
            return self.dissipation(thing);
        }
        let word = match (thing, of_part) {
            (Thing::Part(part), Some(make)) => return self.of_part(words, part, make),
            (Thing::Name(word), Some(_)) => {
                let what = if words.ends_with("margin") { "an amplifier" } else { "a part" };
                let message = format!("{words} is of {what}, and {} is none", word.text);
                return Err(Refusal::Wrong(fault("part-wanted", word.span, message)));
            }
            (Thing::Name(word), None) => word,
            (Thing::Part(part), None) => {
                let stage = words.ends_with("put impedance") || matches!(words, "natural frequency" | "q");
                let what = match words {
                    "supply current" => "a rail",
                    _ if stage => "a stage",
                    _ => "a node or a pair",
                };
                return Err(Refusal::Wrong(fault(
                    "phrase-of-part",
                    part.part.span,
                    format!("{words} is of {what}; {} is a part", part.part.text),
                )));
            }
        };
        let single = |w: &Word| self.point(Some(&WrittenPoint { terms: vec![(false, w.clone())] }));
        let one = match words {
            "impedance" => {
                if let Some(f) = from {
                    return Err(Refusal::Wrong(fault(
                        "from-of-impedance",
                        f.span,
                        "the impedance of a node needs no `from`: every source is quiet",
                    )));
                }
                Quantity::Impedance(single(word)?)
            }
            "input impedance" | "output impedance" => {
                let id = self.stage(word)?;
                let input = words == "input impedance";
                let point = match from {
                    Some(port) => self.port(id, input, port)?,
                    None => port_point(self.circuit, id, input).ok_or_else(|| {
                        let (kind, side) = if input { ("input", "in front of") } else { ("output", "behind") };
                        Refusal::Wrong(fault(
                            "stage-without-port",
                            word.span,
                            format!("{} has no {kind} port: name one {side} `->` in its heading", word.text),
                        ))
                    })?,
                };
                if input { Quantity::InputImpedance(id, point) } else { Quantity::OutputImpedance(id, point) }
            }
            "natural frequency" | "q" => {
                let id = self.stage(word)?;
                Quantity::Measure(if words == "q" { Measure::Q(id) } else { Measure::NaturalFrequency(id) })
            }
            "level" => Quantity::Measure(Measure::Level(single(word)?)),
            "clip level" => Quantity::Measure(Measure::ClipLevel(single(word)?)),
            "headroom" => Quantity::Measure(Measure::Headroom(single(word)?)),
            "noise" => Quantity::Measure(Measure::Noise(single(word)?)),
            "noise density" => Quantity::Measure(Measure::NoiseDensity(single(word)?)),
            "offset" => Quantity::Measure(Measure::Offset(single(word)?)),
            "dc" => Quantity::Measure(Measure::Dc(single(word)?)),
            "balance" => Quantity::Measure(Measure::Balance(single(word)?)),
            "supply current" => Quantity::Measure(Measure::SupplyCurrent(self.rail(word)?)),
            _ => {
                return Err(Refusal::Wrong(fault(
                    "phrase-form",
                    phrase.phrase_span,
                    format!("{words} leads from one place to another: `{words} in -> out`"),
                )));
            }
        };
        Ok(vec![one])
    }

    /// The rail of that name.
    fn rail(&self, word: &Word) -> Result<NodeId, Refusal> {
        let mut rails = self.circuit.supplies.iter().flat_map(|s| &s.rails).map(|r| r.0).filter(|n| *n != GROUND);
        if let Some(rail) = rails.clone().find(|n| self.circuit.node_name(*n) == &*word.text) {
            return Ok(rail);
        }
        let known = self.circuit.nodes.iter().any(|n| n.name == word.text);
        if !known {
            return Err(Refusal::Wrong(unknown(word, "rail", rails.map(|n| self.circuit.node_name(n)))));
        }
        let way = rails.next().map_or_else(
            || "`supply vcc +9 V` in design would make one".to_string(),
            |n| format!("did you mean {}", self.circuit.node_name(n)),
        );
        let message = format!("supply current is of a rail, and {} is none: {way}", word.text);
        Err(Refusal::Wrong(fault("unusable-name", word.span, message)))
    }

    /// What an amplifier, or all of one package, turns into heat.
    fn dissipation(&self, thing: &Thing) -> Result<Vec<Quantity>, Refusal> {
        let part = match thing {
            Thing::Part(part) => part,
            Thing::Name(word) => {
                let message = format!("dissipation is of an amplifier, and {} is none", word.text);
                return Err(Refusal::Wrong(fault("part-wanted", word.span, message)));
            }
        };
        let amplifier = |p: &PartId| matches!(self.circuit.parts[p.at()].kind, PartKind::Amplifier { .. });
        let all = crate::design::parts_of(self.circuit, part);
        let of = |name: notation::Name, parts: Vec<PartId>| Quantity::Measure(Measure::Dissipation(name, parts));
        if let Some(first) = all.first() {
            if !amplifier(first) {
                let message =
                    format!("dissipation is of an amplifier; what heats {0} is `power of {0}`", part.part.text);
                return Err(Refusal::Wrong(fault("phrase-of-part", part.part.span, message)));
            }
            let all = if part.all { &all[..] } else { &all[..1] };
            return Ok(all.iter().map(|p| of(self.circuit.parts[p.at()].name.clone(), vec![*p])).collect());
        }
        // `U1` is the package of U1a and U1b.
        let unit = |name: &str| {
            let letter = name.strip_prefix(&*part.part.text).map(str::as_bytes);
            matches!(letter, Some([b'a'..=b'z']))
        };
        let ids = (0..self.circuit.parts.len() as u32).map(PartId);
        let units: Vec<PartId> = ids.filter(|p| amplifier(p) && unit(&self.circuit.parts[p.at()].name)).collect();
        if units.is_empty() {
            let word = Word { text: part.part.text.clone(), span: part.part.span };
            let near = || unknown(&word, "part", self.circuit.parts.iter().map(|p| &*p.name));
            return Err(Refusal::Wrong(in_copies_only(self.circuit, &word).unwrap_or_else(near)));
        }
        Ok(vec![of(part.part.text.clone(), units)])
    }

    /// The one stage of that name.
    fn stage(&self, word: &Word) -> Result<StageId, Refusal> {
        let id = self
            .circuit
            .stage(&word.text)
            .ok_or_else(|| Refusal::Wrong(unknown(word, "stage", self.circuit.stages.iter().map(|s| &*s.name))))?;
        // Of two neither is sure to be the one that is meant.
        let unread = || self.circuit.stages[id.at()].unread.as_ref().map(|why| why.to_string());
        match self.circuit.doubled(id).or_else(unread) {
            Some(why) => Err(Refusal::Undecided(why)),
            None => Ok(id),
        }
    }

    /// A part, and with `all` its copies too, which may be all there are.
    fn of_part(&self, words: &str, part: &PartRef, make: fn(PartId) -> Measure) -> Result<Vec<Quantity>, Refusal> {
        let all = crate::design::parts_of(self.circuit, part);
        let Some(first) = all.first() else {
            let word = Word { text: part.part.text.clone(), span: part.part.span };
            let near = || unknown(&word, "part", self.circuit.parts.iter().map(|p| &*p.name));
            return Err(Refusal::Wrong(in_copies_only(self.circuit, &word).unwrap_or_else(near)));
        };
        let amplifier = matches!(self.circuit.parts[first.at()].kind, PartKind::Amplifier { .. });
        if amplifier != words.ends_with("margin") {
            let name = &part.part.text;
            let message = if amplifier {
                match words {
                    "power" => {
                        format!("power is of a part with two ends; what heats {name} is `dissipation of {name}`")
                    }
                    _ => format!("{words} is of a part with two ends; {name} is an amplifier"),
                }
            } else {
                format!("{words} is of an amplifier; {name} is none")
            };
            return Err(Refusal::Wrong(fault("phrase-of-part", part.part.span, message)));
        }
        // Of two parts of one name the first is asked, as nothing is known of either.
        let all = if part.all { all } else { vec![*first] };
        Ok(all.into_iter().map(|p| Quantity::Measure(make(p))).collect())
    }

    fn port(&self, stage: StageId, input: bool, word: &Word) -> Result<Point, Refusal> {
        let s = &self.circuit.stages[stage.at()];
        let ports = if input { &s.inputs } else { &s.outputs };
        let point = self.point(Some(&WrittenPoint { terms: vec![(false, word.clone())] }))?;
        if point.terms.is_empty() || !point.terms.iter().all(|t| ports.contains(&t.1)) {
            let names = ports.iter().map(|p| self.circuit.node_name(*p));
            return Err(Refusal::Wrong(unknown(
                word,
                &format!("{} port of {}", if input { "input" } else { "output" }, s.name),
                names,
            )));
        }
        Ok(point)
    }
}
