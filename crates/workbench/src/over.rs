//! Statements and readings over tolerance. None of this is asked for at a keystroke, but by `check` and `read --tolerance`; an edit that
//! overtakes it makes it unwind.

use std::sync::Arc;

use analysis::tolerance::draw::{BUILDS, Builds};
use analysis::tolerance::{Ask, Found, Study, study};
use analysis::{Plan, Reading};
use argument::{Over, Verdict};
use circuit::{Circuit, LimitPiece, Query, Weight};
use notation::tree::{Fault, Span};
use quantity::Unit;

use crate::database::{Chunk, Desk, Document, WayKey, circuit_of, network, planned, sound, way, whole};
use crate::decided::{decided, wanted};

/// A requirement over tolerance, or a clause that says why it is not decided.
pub(crate) type Held = Result<Over, String>;

/// What there is to say over tolerance about a reading.
#[derive(Clone, Debug, PartialEq)]
pub struct Tolerance {
    /// The study, or a clause that says why there is none.
    pub study: Result<Study, String>,
    /// Whether a preset has a say in the circuit.
    pub preset: bool,
    /// What a limit comes to, where one is written behind the phrase.
    pub held: Option<(Over, LimitPiece)>,
}

/// Whether any part or rail of a circuit may be off.
pub(crate) fn stated(circuit: &Circuit) -> bool {
    !circuit.tolerances.is_empty()
        || !circuit.matched.is_empty()
        || circuit.parts.iter().any(|p| p.tolerance.is_some())
        || circuit.supplies.iter().any(|s| !s.slack.is_empty())
}

/// Works a reading out over tolerance.
pub(crate) fn studied(
    db: &dyn Desk,
    document: Document,
    query: &Query,
    reading: &Reading,
    limit: Option<&LimitPiece>,
    builds: Builds,
) -> Result<Study, String> {
    let circuit = circuit_of(db, document);
    if !stated(&circuit) {
        return Err("no tolerance is stated: this is nominal only".into());
    }
    let none = || "the circuit has no unique answer".to_string();
    let sound = sound(db, document).ok_or_else(none)?;
    let (plan, whole) = match query.quantity {
        circuit::Quantity::Measure(_) => (Arc::new(Plan::Measure), Some(whole(db, document).ok_or_else(none)?)),
        _ => (
            planned(db, document, WayKey::new(db, way(db, document, &query.quantity, query.from))).ok_or_else(none)?,
            None,
        ),
    };
    let trims = crate::trim::goals(db, document);
    // A preset may be set by a quantity of the whole circuit though the reading takes less.
    let measured = trims.iter().any(|t| matches!(t.query.quantity, circuit::Quantity::Measure(_)));
    let whole = if measured { crate::database::whole(db, document) } else { whole };
    study(&Ask {
        circuit: &circuit,
        network: &network(db, document),
        sound: &sound,
        whole: whole.as_deref(),
        plan: &plan,
        query,
        reading,
        signed: reading.kind == analysis::Kind::Gain && limit.is_some_and(|l| l.unit == Unit::One),
        trims: &trims,
        builds,
        pulse: &|| db.unwind_if_revision_cancelled(),
    })
}

/// What the requirements of an entry come to over tolerance, one for each of its readings; `None` where nothing is decided
/// nominally either.
#[salsa::tracked(returns(clone))]
pub fn held<'db>(db: &'db dyn Desk, document: Document, chunk: Chunk<'db>) -> Arc<Vec<Option<Held>>> {
    let one = |d: &crate::decided::Decided| {
        let (limit, reading, query) = (d.limit.as_ref()?, d.nominal.as_ref()?, d.query.as_ref()?);
        if matches!(d.decision.as_ref()?.verdict, Verdict::Unknown(_)) {
            return None;
        }
        let over = |builds: Builds| {
            let found = studied(db, document, query, reading, Some(limit), builds);
            found.map(|study| argument::over(&study, reading, limit))
        };
        let found = over(Builds::MANY);
        // Where the worst corner fails and none of a few builds does, more of them tell how rare it is.
        let rare = |over: &Over| {
            over.verdict == Verdict::Fails && over.share.some == over.share.all && over.share.all < Builds::MORE.slow
        };
        Some(if found.as_ref().is_ok_and(rare) { over(Builds::MORE) } else { found })
    };
    Arc::new(decided(db, document, chunk).iter().map(one).collect())
}

/// A share of builds: none and all are told as such, and nothing else rounds to them.
pub(crate) fn share_text(share: &analysis::tolerance::share::Share) -> String {
    match (share.some, share.all) {
        (0, _) => "no build holds".into(),
        (some, all) if some == all => "every drawn build holds".into(),
        (_, BUILDS) => format!("{} of builds hold", percent(share.value())),
        (_, all) => format!("{} of {all} builds hold", percent(share.value())),
    }
}

/// The same in a message, with what the number of builds says about those that were not drawn.
fn share_bounded(share: &analysis::tolerance::share::Share) -> String {
    if share.some == share.all && share.all > 0 {
        let (all, most) = (share.all, 100.0 * share.most_missed());
        // Two digits that count.
        let digits = (1 - most.log10().floor() as i32).clamp(0, 9) as usize;
        return format!("none of {all} drawn builds fails, so at most {most:.digits$} % do (95 % confidence)");
    }
    let [low, high] = share.interval.map(|x| format!("{:.1}", 100.0 * x));
    format!("{} ({low} … {high} % with 95 % confidence)", share_text(share))
}

fn percent(x: f64) -> String {
    format!("{:.1} %", (100.0 * x).clamp(0.1, 99.9))
}

/// `R1 +1 %, R2 −1 %, R3 −1 % and 4 more`
pub(crate) fn corner_text(found: &Found) -> String {
    match found {
        Found::Nominal => "nothing is off".into(),
        // What is off at it makes no difference.
        Found::Corner(off) if off.is_empty() => "nothing is off".into(),
        Found::Build(number) => format!("drawn build {number}"),
        Found::Corner(off) => {
            let one = |(name, share): &(notation::Name, f64)| format!("{name} {}", shift(*share));
            let mut all: Vec<String> = off.iter().take(3).map(one).collect();
            if off.len() == 4 {
                all.push(one(&off[3]));
            }
            let text = all.join(", ");
            if off.len() > 4 { format!("{text} and {} more", off.len() - 3) } else { text }
        }
    }
}

fn shift(share: f64) -> String {
    let sign = if share < 0.0 { '−' } else { '+' };
    let digits = format!("{:.3}", 100.0 * share.abs());
    let digits = digits.trim_end_matches('0').trim_end_matches('.');
    format!("{sign}{digits} %")
}

/// What is said about a requirement that holds nominally and fails over tolerance.
pub(crate) fn failure(d: &crate::decided::Decided, held: &Held, span: Span) -> Option<(Weight, Fault, Vec<String>)> {
    let (decision, limit, reading) = (d.decision.as_ref()?, d.limit.as_ref()?, d.reading.as_ref()?);
    let over = held.as_ref().ok()?;
    if decision.verdict != Verdict::Holds || over.verdict != Verdict::Fails {
        return None;
    }
    // Where nominal, worst and limit lie close together, they are told apart.
    let ends = [limit.low, limit.high].into_iter().flatten();
    let told: Vec<f64> = decision.value.into_iter().chain([over.value]).chain(ends).collect();
    let more = argument::require::digits_more(&told, limit);
    let text = |x: f64| argument::require::longer(x, limit, more);
    let most: Vec<String> = over
        .weights
        .iter()
        .scan(0.0, |sum, w| {
            // The two or three that make up nine tenths of the spread.
            let open = *sum < 0.9;
            *sum += w.share;
            open.then(|| w.name.to_string())
        })
        .take(3)
        .collect();
    let spend = match &most[..] {
        [] => String::new(),
        [one] => format!("; {one} spends the margin"),
        several => format!("; {} spend most of the margin", quantity::list(several, "and")),
    };
    let unread = over.unread.as_ref().map(|(count, why)| {
        let share = analysis::tolerance::share::Share::of(*count, over.share.all);
        let [low, high] = share.interval.map(|x| format!("{:.1}", 100.0 * x));
        format!(
            "{} of {} builds cannot be read ({low} … {high} % with 95 % confidence): {}",
            percent(share.value()),
            share.all,
            why.trim_end_matches('.')
        )
    });
    if let (true, Some(unread)) = (over.kept, &unread) {
        let nominal = text(decision.value?);
        let message = format!("{} is {nominal} nominally, and over tolerance {unread}", reading.phrase);
        let fault = Fault { id: "requirement-tolerance", span, message, unfinished: false, fixes: Vec::new() };
        return Some((Weight::Warning, fault, Vec::new()));
    }
    let at = if over.worst.position.is_empty() { String::new() } else { format!(" at {}", over.worst.position) };
    let (nominal, worst) = (text(decision.value?), text(over.value));
    let message = format!(
        "{} is {nominal} nominally and {worst}{at} at worst over tolerance ({}), and {} is wanted: {}{spend}{}",
        reading.phrase,
        corner_text(&over.worst.at),
        wanted(limit, over.value, over.limit, more),
        share_bounded(&over.share),
        unread.map_or_else(String::new, |said| format!("; {said}")),
    );
    let mut names: Vec<String> = over.weights.iter().map(|w| w.name.to_string()).collect();
    names.truncate(3);
    let fault = Fault { id: "requirement-tolerance", span, message, unfinished: false, fixes: Vec::new() };
    Some((Weight::Warning, fault, names))
}
