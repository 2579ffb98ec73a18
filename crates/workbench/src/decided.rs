//! Requirements with their verdicts.

use std::sync::Arc;

use analysis::Reading;
use argument::{Decision, Verdict};
use circuit::{LimitPiece, PieceKind, RequirePiece, Weight};
use notation::tree::{BlockKind, Fault, Span};
use quantity::Style;

use crate::database::{Chunk, Desk, Document, Read, circuit_of, layout, reads};
use crate::hints::blank;

/// A requirement's reading and its verdict; several where the phrase names several things.
#[derive(Clone, Debug, PartialEq)]
pub struct Decided {
    /// The reading.
    pub reading: Option<Arc<Reading>>,
    /// The limit, if there is one.
    pub limit: Option<LimitPiece>,
    /// The verdict; `None` where no limit is written and the reading is only shown.
    pub decision: Option<Decision>,
    /// What is wrong with the quantity, if that is why there is no reading.
    pub refused: Option<Fault>,
    /// Why there is no reading, where the statement is finished.
    pub lacks: Option<String>,
    /// The reading with nothing off, where the reading itself is over tolerance.
    pub nominal: Option<Arc<Reading>>,
    /// The question.
    pub query: Option<circuit::Query>,
}

/// An entry with expressions, read with the rest of the file.
fn whole(db: &dyn Desk, document: Document, read: &Read) -> Option<RequirePiece> {
    let Read::Entry(entry, piece) = read else { return None };
    let again;
    let piece = if piece.pending.is_some() {
        let circuit = circuit_of(db, document);
        again = circuit::piece::read_in(entry, Some(&*circuit));
        &again
    } else {
        piece
    };
    match &piece.kind {
        PieceKind::Require(require) => Some((**require).clone()),
        _ => None,
    }
}

/// Why an entry's limit is none, though one is written.
fn limit_lacks(read: &Read) -> &'static str {
    let Read::Entry(_, piece) = read else { return "its limit is unfinished" };
    match &piece.findings[..] {
        [(_, fault), ..] if !fault.unfinished => "its limit cannot be read",
        [] if piece.pending.is_some() => "its limit cannot be worked out",
        _ => "its limit is unfinished",
    }
}

/// What stands at a place in an entry.
fn entry_text<'db>(db: &'db dyn Desk, chunk: Chunk<'db>, span: Span) -> &'db str {
    chunk.text(db).get(span.range()).unwrap_or_default()
}

/// Decides an entry of `require`, by its text.
#[salsa::tracked(returns(clone))]
pub fn decided<'db>(db: &'db dyn Desk, document: Document, chunk: Chunk<'db>) -> Arc<Vec<Decided>> {
    let read = crate::database::read(db, chunk);
    let Some(require) = whole(db, document, &read) else { return Arc::new(Vec::new()) };
    let unknown = |why: String| Decided {
        reading: None,
        limit: require.limit,
        lacks: Some(why.clone()),
        decision: require.limited.then(|| Decision {
            verdict: Verdict::Unknown(why),
            value: None,
            margin: None,
            position: "".into(),
            limit: None,
        }),
        refused: None,
        nominal: None,
        query: None,
    };
    if require.doubtful {
        return Arc::new(vec![unknown("its quantity cannot be read".into())]);
    }
    if let Some(why) = blank(db, document) {
        // A name that nobody has is told all the same, unless a line that is unfinished or a copy that is not made may hold it.
        let copied = |f: &Fault| entry_text(db, chunk, f.span).contains('.');
        let refused = match circuit::resolve::resolve(&circuit_of(db, document), &require.quantity) {
            Err(circuit::Refusal::Wrong(f)) if f.id == "unknown-name" && !copied(&f) => Some(f),
            _ => None,
        };
        let torn = crate::problems::torn(db, document).is_some();
        return Arc::new(vec![Decided { refused: refused.filter(|_| !torn), ..unknown(why) }]);
    }
    let queries = match circuit::resolve::resolve(&circuit_of(db, document), &require.quantity) {
        Ok(queries) => queries,
        Err(circuit::Refusal::Wrong(fault)) => {
            return Arc::new(vec![Decided { refused: Some(fault.clone()), ..unknown(fault.message) }]);
        }
        Err(circuit::Refusal::Undecided(why)) => return Arc::new(vec![unknown(why)]),
        Err(circuit::Refusal::Unfinished) => {
            return Arc::new(vec![Decided { lacks: None, ..unknown("it is unfinished".into()) }]);
        }
    };
    let one = |query: &circuit::Query| match crate::ask::answer_with_nominal(db, document, query) {
        None => unknown("the circuit has no unique answer".into()),
        Some((reading, nominal)) => {
            let decision = match (&require.limit, require.limited) {
                (Some(limit), _) => Some(match mixed(db, document, query).filter(|_| require.sine) {
                    Some(why) => Decision { verdict: Verdict::Unknown(why), ..argument::decide(&reading, limit) },
                    None => floating(db, document, query, argument::decide(&reading, limit)),
                }),
                (None, true) => unknown(limit_lacks(&read).into()).decision,
                (None, false) => None,
            };
            let reading = Arc::new(reading);
            let nominal = nominal.map_or_else(|| reading.clone(), Arc::new);
            Decided {
                reading: Some(reading),
                limit: require.limit,
                decision,
                refused: None,
                lacks: None,
                nominal: Some(nominal),
                query: Some(query.clone()),
            }
        }
    };
    Arc::new(queries.iter().map(one).collect())
}

/// Why a level is not held against a sine's peak: several sources make it.
pub(crate) fn mixed(db: &dyn Desk, document: Document, query: &circuit::Query) -> Option<String> {
    let circuit::Quantity::Measure(circuit::Measure::Level(point) | circuit::Measure::ClipLevel(point)) =
        &query.quantity
    else {
        return None;
    };
    let whole = crate::database::whole(db, document)?;
    let makers = analysis::measure::makers(&whole, &circuit_of(db, document), query, point);
    let list = quantity::list(&makers.iter().map(ToString::to_string).collect::<Vec<_>>(), "and");
    (makers.len() > 1).then(|| format!("{list} make it: its peak is not √2 of its rms; write the limit in rms"))
}

/// Where a gain from one leg of a pair is not decided, what drives that leg: a source that floats between both moves it as it likes.
fn floating(db: &dyn Desk, document: Document, query: &circuit::Query, decision: Decision) -> Decision {
    let (Verdict::Unknown(why), circuit::Quantity::Gain(from, to)) = (&decision.verdict, &query.quantity) else {
        return decision;
    };
    let circuit = circuit_of(db, document);
    let [(_, leg)] = from.terms[..] else { return decision };
    let source = circuit.sources.iter().find(|s| s.minus != circuit::GROUND && (s.plus == leg || s.minus == leg));
    let Some(source) = source else { return decision };
    let why = format!(
        "{}; {} is one leg of {}, which floats: what stands at it alone hangs on the input that follows. `gain {} -> {}` is the pair's, and `source {} 1 V` drives the leg against gnd",
        why.trim_end_matches('.'),
        from.name,
        source.name,
        source.name,
        to.name,
        from.name,
    );
    Decision { verdict: Verdict::Unknown(why), ..decision }
}

/// The requirements of a file: block, entry, and what was decided.
pub(crate) fn all(db: &dyn Desk, document: Document) -> Vec<(u32, u32, Arc<Vec<Decided>>)> {
    let (layout, reads, text) = (layout(db, document), reads(db, document), document.text(db));
    let mut found = Vec::new();
    for (b, (block, read)) in layout.blocks.iter().zip(reads.iter()).enumerate() {
        if block.kind != Some(BlockKind::Require) {
            continue;
        }
        for (e, (lines, _)) in block.entries.iter().zip(&read.entries).enumerate() {
            let chunk = Chunk::new(db, block.kind, false, &text[lines.range.clone()]);
            found.push((b as u32, e as u32, decided(db, document, chunk)));
        }
    }
    found
}

/// The requirements of a file with a limit: what is asked, and what is wanted of it. Nothing is worked out.
pub(crate) fn stated(db: &dyn Desk, document: Document) -> Vec<(circuit::Query, LimitPiece)> {
    let (layout, reads, circuit) = (layout(db, document), reads(db, document), circuit_of(db, document));
    let blocks = layout.blocks.iter().zip(reads.iter()).filter(|(b, _)| b.kind == Some(BlockKind::Require));
    let pieces = blocks.flat_map(|(_, read)| &read.entries).filter_map(|read| whole(db, document, read));
    let one = |piece: RequirePiece| -> Vec<(circuit::Query, LimitPiece)> {
        let (Some(limit), false) = (piece.limit, piece.doubtful) else { return Vec::new() };
        let queries = circuit::resolve::resolve(&circuit, &piece.quantity).unwrap_or_default();
        queries.into_iter().map(|q| (q, limit)).collect()
    };
    pieces.flat_map(one).collect()
}

/// What was decided of one requirement of a file, by its block and entry.
pub(crate) fn one(db: &dyn Desk, document: Document, block: u32, entry: u32) -> Arc<Vec<Decided>> {
    let (layout, text) = (layout(db, document), document.text(db));
    let lines = layout.blocks.get(block as usize).and_then(|b| Some((b, b.entries.get(entry as usize)?)));
    let Some((block, lines)) = lines else { return Arc::default() };
    decided(db, document, Chunk::new(db, block.kind, false, &text[lines.range.clone()]))
}

/// A requirement of a file over tolerance, by its block and entry.
pub(crate) fn held(db: &dyn Desk, document: Document, block: u32, entry: u32) -> Arc<Vec<Option<crate::over::Held>>> {
    let (layout, text) = (layout(db, document), document.text(db));
    let block = &layout.blocks[block as usize];
    let range = block.entries[entry as usize].range.clone();
    crate::over::held(db, document, Chunk::new(db, block.kind, false, &text[range]))
}

/// `12.0 dB holds, 0.46 dB to spare`
pub(crate) fn hint(all: &[Decided], style: Style) -> Option<String> {
    let texts: Vec<String> = all.iter().map(|d| one_hint(d, style)).collect::<Option<_>>()?;
    let mut said: Vec<String> = Vec::new();
    for text in texts {
        if !said.contains(&text) {
            said.push(text);
        }
    }
    (!said.is_empty()).then(|| said.join(" · "))
}

fn one_hint(d: &Decided, style: Style) -> Option<String> {
    let shown = d.reading.as_ref().map(|r| r.short(style));
    let more = style.digits.saturating_sub(Style::default().digits);
    let typical = d.reading.as_ref().is_some_and(|r| matches!(r.status, analysis::Status::Typical(_)));
    let Some(decision) = &d.decision else {
        return shown.or_else(|| d.lacks.as_ref().map(|why| format!("unknown: {}", why.trim_end_matches('.'))));
    };
    match (&decision.verdict, &d.limit) {
        (Verdict::Unknown(why), _) => Some(format!("unknown: {}", why.trim_end_matches('.'))),
        (verdict, Some(limit)) => {
            let value = argument::require::value_text(d.reading.as_ref()?, decision.value?, limit, more);
            let margin = decision.margin?;
            let at = if decision.position.is_empty() { String::new() } else { format!(" at {}", decision.position) };
            let spare = argument::require::margin_text(margin, limit, more);
            let endless = !margin.is_finite();
            let text = match verdict {
                Verdict::Holds if endless => format!("{value}: holds"),
                Verdict::Holds => format!("{value}{at} holds, {spare} to spare"),
                _ if endless || margin == 0.0 => format!("{value}{at}: fails"),
                _ => format!("{value}{at} fails by {spare}"),
            };
            Some(if typical { format!("{text} typ.") } else { text })
        }
        (_, None) => shown,
    }
}

/// What a limit wants of a value, by the end that it is nearest to: `at most 20 Hz`, with some digits more than usual.
pub(crate) fn wanted(limit: &LimitPiece, value: f64, end: f64, more: u8) -> String {
    let text = |x: f64| argument::require::longer(x, limit, more);
    // The limit's own figure is outside of `<` and `>`.
    let strict = !limit.ends && value == end;
    match (limit.low, limit.high) {
        (Some(a), Some(b)) => format!("{} to {}", text(a), text(b)),
        (None, _) if strict => format!("less than {}", text(end)),
        (None, _) => format!("at most {}", text(end)),
        _ if strict => format!("more than {}", text(end)),
        _ => format!("at least {}", text(end)),
    }
}

/// What is said about a requirement that fails.
pub(crate) fn failure(d: &Decided, span: Span) -> Option<(Weight, Fault, Vec<String>)> {
    let (decision, limit, reading) = (d.decision.as_ref()?, d.limit.as_ref()?, d.reading.as_ref()?);
    if decision.verdict != Verdict::Fails {
        return None;
    }
    let value = argument::require::value_text(reading, decision.value?, limit, 0);
    let at = if decision.position.is_empty() { String::new() } else { format!(" at {}", decision.position) };
    let over = limit.high.is_some_and(|h| decision.value.is_some_and(|v| v >= h));
    let too = if over { "too much" } else { "too little" };
    let margin = decision.margin?;
    let by = if margin.is_finite() && margin != 0.0 {
        format!(", {} {too}", argument::require::margin_text(margin, limit, 0))
    } else {
        String::new()
    };
    let wanted = wanted(limit, decision.value?, decision.limit?, 0);
    // Where there is nothing to read, nothing is not a value.
    let is = if value.starts_with("no ") { ":" } else { " is" };
    // Where one figure is wanted, its miss may be one of the usual slips.
    let middle = limit.low.zip(limit.high).map(|(a, b)| 0.5 * (a + b));
    let slip = middle.and_then(|m| argument::slip::slip(decision.value?, m, limit.unit));
    let slip = slip.map_or_else(String::new, |s| format!("; {s}"));
    let message = format!("{}{is} {value}{at}, and {wanted} is wanted{by}{slip}", reading.phrase);
    let fault = Fault { id: "requirement-fails", span, message, unfinished: false, fixes: Vec::new() };
    Some((Weight::Error, fault, Vec::new()))
}
