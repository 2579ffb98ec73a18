//! What stands behind a part's value: attributes, each once and each where it has a meaning.

use notation::Name;
use notation::tree::{Attribute, Element, Figure as Written, Span, Word};
use quantity::{Series, Unit, Want};

use crate::circuit::{Given, Taper, Tolerance};
use crate::element::{Class, Elem};
use crate::piece::{Reader, WrittenPosition, fault, written_position};

/// Takes an attribute in. What cannot be read is not passed over: it may have been `unfitted`, or a taper, so the part is then
/// not known.
pub(crate) fn attribute(reader: &mut Reader, e: &Element, attribute: &Attribute, elem: &mut Elem) {
    match attribute {
        Attribute::Word(w) => word(reader, e, w, elem),
        Attribute::At(at, figure) => {
            let span = figure.as_ref().map_or(*at, |f| f.span);
            if !matches!(elem.class, Class::Variable | Class::Switch) {
                let message = format!("{} has no position: `at` belongs to a VR or a SW", elem.name);
                return reader.open(fault("rest-of-fixed-part", span, message));
            }
            match figure.as_ref().and_then(|f| written_position(reader, &e.part, f)) {
                Some(position) => rest(reader, position, span, elem),
                None => elem.unrest = Some(format!("where {} rests cannot be read", elem.shaft).into()),
            }
        }
        Attribute::Figure { figure, plus_minus } => {
            let unit = match elem.class {
                Class::Capacitor => Unit::Farad,
                Class::Inductor => Unit::Henry,
                _ => Unit::Ohm,
            };
            // A second figure of the value's own kind, which a rating or a tolerance never is.
            let own = match elem.class {
                Class::Resistor | Class::Variable => Some(Want::ResistorValue),
                Class::Capacitor => Some(Want::CapacitorValue),
                Class::Inductor => Some(Want::InductorValue),
                _ => None,
            };
            if !plus_minus
                && figure.unit.is_none()
                && crate::piece::decode(figure, Want::Attribute(unit)).is_err()
                && let Some(Ok((x, unit, _))) = own.map(|own| crate::piece::decode(figure, own))
                && figure.text.contains(|c: char| !c.is_ascii_digit() && c != '.')
            {
                return second_value(reader, figure, x, unit, elem);
            }
            match reader.decode(figure, Want::Attribute(unit)) {
                Some((x, unit)) if matches!(unit, Unit::Ohm | Unit::Farad | Unit::Henry) && !plus_minus => {
                    second_value(reader, figure, x, unit, elem);
                }
                Some((_, unit)) if valueless(elem.class) && unit == Unit::Percent => {
                    let message =
                        format!("{} has no value that could be off: a tolerance belongs to R, VR, C and L", elem.name);
                    reader.open(fault("unreadable-figure", figure.span, message));
                }
                Some((x, unit)) => amount(reader, x, unit, figure.span, elem),
                None => {
                    elem.tolerance = Some(Tolerance::Unknown);
                    // Behind `±` it can only be a tolerance; else it may be a piece of the value, or another value.
                    if !plus_minus {
                        doubtful(elem);
                    }
                }
            }
        }
        Attribute::Series(w) => series(reader, w, elem),
        Attribute::Text(w) if elem.note.is_some() => {
            twice(reader, w.span, &elem.name, "two texts in quotes: an order code is one");
        }
        Attribute::Text(w) => elem.note = Some(w.text.clone()),
        Attribute::Junk(_) => {
            elem.tolerance = Some(Tolerance::Unknown);
            doubtful(elem);
        }
    }
}

/// Whether parts of a class have no value.
fn valueless(class: Class) -> bool {
    matches!(class, Class::Amplifier | Class::Switch)
}

/// A resistance, a capacitance or an inductance that is no tolerance: which of two values is meant is not known.
fn second_value(reader: &mut Reader, figure: &Written, x: f64, unit: Unit, elem: &mut Elem) {
    doubtful(elem);
    let name = elem.name.clone();
    let text = quantity::exact(x, unit, quantity::Style::default()).unwrap_or_default();
    if valueless(elem.class) {
        let message = format!("{name} has no value: {text} has no meaning here");
        return reader.open(fault("unreadable-figure", figure.span, message));
    }
    if elem.value == Given::Number(x) {
        let mut said = fault("unreadable-figure", figure.span, format!("{name}'s value stands twice: once is enough"));
        said.fixes
            .push(notation::tree::Fix { title: "leave it out".into(), edits: vec![(figure.span, String::new())] });
        return reader.open(said);
    }
    let message = format!("{text} is a second value of {name}: as a tolerance it has its ± in front");
    let mut said = fault("unreadable-figure", figure.span, message);
    let at = Span { start: figure.span.start, end: figure.span.start };
    said.fixes.push(notation::tree::Fix { title: "write ±".into(), edits: vec![(at, "±".into())] });
    reader.open(said);
}

/// What stands behind a value that cannot be read leaves the value in doubt, or the type.
fn doubtful(elem: &mut Elem) {
    let what = match elem.class {
        Class::Amplifier => "type",
        Class::Switch => "state",
        _ => "value",
    };
    elem.doubt.get_or_insert(format!("{}'s {what} cannot be read", elem.name).into());
}

/// What a part is made of, one line a kind: of two words of one line a part is one or the other. Words of a family and of one of
/// its members (`ceramic c0g`, `film polypropylene`) go together, and so do the two names of one thing.
const MADE_OF: &[&[&[&str]]] = &[
    // Dielectrics: families, each with its members.
    &[
        &["ceramic", "c0g", "np0", "x5r", "x6s", "x7r", "x7s", "x8r", "y5v", "z5u"],
        &["film", "polyester", "polypropylene", "polystyrene", "paper"],
        &["electrolytic", "tantalum"],
        &["mica"],
        &["air"],
    ],
    // What a resistor's track is.
    &[&["carbon"], &["metal"], &["wirewound"]],
    &[&["thin"], &["thick"]],
    // An inductor's core.
    &[&["air"], &["ferrite"], &["iron"]],
    &[&["polar"], &["bipolar"]],
];

/// Two words that say one thing.
const SAME: &[(&str, &str)] = &[("c0g", "np0")];

/// What makes two words of a part exclude each other, if they do: the kind of thing that they are.
fn exclude(class: Class, a: &str, b: &str) -> Option<&'static str> {
    if SAME.iter().any(|(x, y)| (*x, *y) == (a, b) || (*y, *x) == (a, b)) {
        return None;
    }
    let kinds = ["dielectrics", "materials", "films", "cores", "polarities"];
    let own: &[usize] = match class {
        Class::Capacitor => &[0, 4],
        Class::Inductor => &[3],
        Class::Resistor | Class::Variable => &[1, 2],
        _ => &[],
    };
    own.iter().copied().find_map(|k| {
        let family = |w: &str| MADE_OF[k].iter().position(|f| f.contains(&w));
        let (x, y) = (family(a)?, family(b)?);
        // The first word of a family is the family itself.
        let head = |w: &str| MADE_OF[k][x][0] == w;
        (x != y || !(head(a) || head(b))).then_some(kinds[k])
    })
}

/// Whose attribute a word is, where it is not one of such a part.
fn of_other(class: Class, word: &str) -> Option<&'static str> {
    if !matches!(class, Class::Resistor | Class::Variable | Class::Capacitor | Class::Inductor) {
        return None;
    }
    let among = |k: usize| MADE_OF[k].iter().any(|family| family.contains(&word));
    let kinds = [
        (among(0) || among(4), Class::Capacitor, "capacitors"),
        (among(1) || among(2), Class::Resistor, "resistors"),
        (among(3), Class::Inductor, "inductors"),
    ];
    // A film resistor is one too, and what is wound is not always a resistor.
    let shared = matches!(word, "film" | "wirewound" | "metal" | "ceramic" | "iron" | "paper");
    let own = |c: Class| c == class || (c == Class::Resistor && class == Class::Variable);
    let mut all = kinds.iter().filter(|k| k.0);
    let first = all.next().filter(|_| !shared)?;
    (!own(first.1) && !all.any(|k| own(k.1))).then_some(first.2)
}

/// Whether a word of [`notation::word::ATTRIBUTES`] has a meaning behind a part of a class.
///
/// ```
/// use circuit::attribute::suits;
///
/// assert!(suits("C", "polar") && suits("VR", "log") && suits("SW", "open") && suits("R", "external"));
/// assert!(!suits("R", "polar") && !suits("R", "log") && !suits("C", "closed") && !suits("U", "film"));
/// ```
pub fn suits(class: &str, word: &str) -> bool {
    let class = Class::of(class);
    if matches!(word, "external" | "unfitted") {
        return class != Class::Unknown;
    }
    if taper(word).is_some() {
        return class == Class::Variable;
    }
    match class {
        Class::Switch => matches!(word, "open" | "closed"),
        Class::Amplifier | Class::Unknown => false,
        // What may stand behind several classes is offered where it is at home.
        _ => !matches!(word, "open" | "closed") && of_other(class, word).is_none() && at_home(class, word),
    }
}

/// Whether a class has a word among those that its parts are made of.
fn at_home(class: Class, word: &str) -> bool {
    let own: &[usize] = match class {
        Class::Capacitor => &[0, 4],
        Class::Inductor => &[3],
        _ => &[1, 2],
    };
    let film = class == Class::Resistor && matches!(word, "film" | "foil");
    film || class == Class::Capacitor && word == "foil"
        || own.iter().any(|k| MADE_OF[*k].iter().any(|f| f.contains(&word)))
}

/// Whether of two words behind a part of a class only one can be right.
pub fn clash(class: &str, a: &str, b: &str) -> bool {
    let both = |x, y| (a, b) == (x, y) || (b, a) == (x, y);
    let tapers = taper(a).is_some() && taper(b).is_some();
    a == b
        || tapers
        || both("open", "closed")
        || both("external", "unfitted")
        || exclude(Class::of(class), a, b).is_some()
}

/// The first two words of a part of which only one can be right.
fn two_of_a_kind(reader: &mut Reader, e: &Element, elem: &Elem) {
    let words: Vec<&Word> =
        e.attributes.iter().filter_map(|a| if let Attribute::Word(w) = a { Some(w) } else { None }).collect();
    for (i, second) in words.iter().enumerate() {
        let clash = words[..i].iter().find_map(|w| Some((w, exclude(elem.class, &w.text, &second.text)?)));
        let Some((first, kinds)) = clash.filter(|(first, _)| first.text != second.text) else { continue };
        twice(
            reader,
            second.span,
            &elem.name,
            &format!("two {kinds}, {} and {}: take one of the two away", first.text, second.text),
        );
        return;
    }
}

/// What two attributes that exclude each other leave of a part.
pub(crate) fn contradictions(reader: &mut Reader, e: &Element, elem: &mut Elem) {
    two_of_a_kind(reader, e, elem);
    if elem.external && elem.unfitted {
        let name = elem.name.clone();
        let message = format!(
            "{name} is external (in the circuit, not on the parts list) and unfitted (on the parts list, not in the circuit): take one of the two away"
        );
        reader.open(fault("attributes-contradict", elem.span, message));
        elem.unfitted = false;
        elem.doubt = Some(format!("{name} is external and unfitted at once").into());
    }
}

fn twice(reader: &mut Reader, span: Span, name: &Name, what: &str) {
    reader.open(fault("repeated-attribute", span, format!("{name} has {what}")));
}

fn word(reader: &mut Reader, e: &Element, w: &Word, elem: &mut Elem) {
    let name = elem.name.clone();
    let text = &*w.text;
    // An amplifier's first word is its type, whatever that is called.
    if elem.class == Class::Amplifier && elem.kind.is_none() && !matches!(text, "external" | "unfitted") {
        elem.kind = Some(w.clone());
        return;
    }
    if let Some(t) = taper(text) {
        if elem.class != Class::Variable {
            let message = format!("{name} does not turn: a taper belongs to a VR");
            return reader.open(fault("taper-on-fixed-part", w.span, message));
        }
        if elem.tapered {
            twice(reader, w.span, &name, "two tapers: a track has one");
            if elem.taper != t {
                elem.doubt = Some(format!("{name} has two tapers").into());
            }
            return;
        }
        (elem.taper, elem.tapered) = (t, true);
        return;
    }
    let is = |a: &&Attribute| matches!(a, Attribute::Word(b) if b.text == w.text && b.span.start < w.span.start);
    let repeated = e.attributes.iter().any(|a| is(&a));
    let made = notation::word::is_attribute(text) && !matches!(text, "open" | "closed" | "external" | "unfitted");
    if made && !repeated && of_other(elem.class, text).is_none() {
        elem.made_of.push(w.text.clone());
    }
    match (text, elem.class) {
        ("open", Class::Switch) => rest(reader, WrittenPosition::Open, w.span, elem),
        ("closed", Class::Switch) => rest(reader, WrittenPosition::Closed, w.span, elem),
        ("open" | "closed", _) => {
            let message = format!("{name} is not switched: `{text}` belongs to a SW");
            reader.open(fault("state-of-fixed-part", w.span, message));
        }
        _ if repeated => twice(reader, w.span, &name, &format!("{text} twice: once is enough")),
        _ if of_other(elem.class, text).is_some() => {
            let whose = of_other(elem.class, text).unwrap_or_default();
            let mut wrong =
                fault("attribute-of-other", w.span, format!("{name} cannot be {text}: that is said of {whose}"));
            wrong
                .fixes
                .push(notation::tree::Fix { title: format!("leave {text} out"), edits: vec![(w.span, String::new())] });
            reader.warn(wrong);
        }
        ("polar", _) => elem.polar = true,
        ("external", _) => elem.external = true,
        ("unfitted", _) => elem.unfitted = true,
        _ if !notation::word::is_attribute(text) => {
            elem.doubt = Some(format!("an attribute of {name} cannot be read").into());
        }
        _ => {}
    }
}

/// Where a control rests, which is said once.
fn rest(reader: &mut Reader, position: WrittenPosition, span: Span, elem: &mut Elem) {
    if let Some(first) = elem.rest {
        twice(reader, span, &elem.name, "two positions of rest: it stands at one of them");
        if first != position {
            elem.unrest = Some(format!("{} rests at two places", elem.shaft).into());
        }
        return;
    }
    elem.rest = Some(position);
}

/// A tolerance or a rating.
fn amount(reader: &mut Reader, x: f64, unit: Unit, span: Span, elem: &mut Elem) {
    let name = elem.name.clone();
    let ratings = &mut elem.ratings;
    let (rating, word) = match unit {
        Unit::Volt => (&mut ratings.volts, "voltages"),
        Unit::Watt => (&mut ratings.watts, "powers"),
        Unit::Ampere => (&mut ratings.amperes, "currents"),
        Unit::Celsius => (&mut ratings.celsius, "temperatures"),
        _ => {
            let percent = unit == Unit::Percent;
            let tolerance = if percent { Tolerance::Share(x / 100.0) } else { Tolerance::Absolute(x) };
            if percent && !(0.0..100.0).contains(&x) {
                let message = format!("{name}'s tolerance is 0 % or more and less than 100 %");
                reader.open(fault("tolerance-out-of-range", span, message));
                elem.tolerance = Some(Tolerance::Unknown);
            } else if let Some(first) = elem.tolerance {
                twice(reader, span, &name, "two tolerances: take one of the two away");
                elem.tolerance = Some(if first == tolerance { first } else { Tolerance::Two });
            } else {
                elem.tolerance = Some(tolerance);
            }
            return;
        }
    };
    if let Some(first) = *rating {
        // Of two that differ neither is held against what the part is put to.
        *rating = Some(first).filter(|_| first == x);
        ratings.two |= first != x;
        return twice(reader, span, &name, &format!("two rated {word}: take one of the two away"));
    }
    *rating = Some(x);
}

fn series(reader: &mut Reader, w: &Word, elem: &mut Elem) {
    let name = elem.name.clone();
    let found = Series::read(&w.text);
    if elem.series.is_some() {
        twice(reader, w.span, &name, "two series: its value is rounded to one");
        // Without an expression there is nothing to round, and the value stands as it is written.
        if elem.expression.is_some() && elem.series != found {
            elem.doubt = Some(format!("{name} is rounded to two series").into());
        }
        return;
    }
    elem.series = found;
    if let (Some(series), Given::Number(x), None) = (elem.series, &elem.value, &elem.expression)
        && !series.contains(*x)
        && *x > 0.0
    {
        let unit = match elem.class {
            Class::Capacitor => Unit::Farad,
            Class::Inductor => Unit::Henry,
            _ => Unit::Ohm,
        };
        let style = quantity::Style::default();
        let text = |x: f64| quantity::exact(x, unit, style).unwrap_or_default();
        let near = series.nearest(*x).map_or_else(String::new, |n| format!(": the nearest is {}", text(n)));
        let message = format!("{name} {} is no value of {}{near}", text(*x), series.name());
        reader.warn(fault("not-in-series", w.span, message));
    }
}

/// `lin`, `log`, `revlog`, `log15`: the percentage in the word is the share of the track at half travel.
fn taper(word: &str) -> Option<Taper> {
    let share = |digits: &str| match digits {
        "" => Some(0.10),
        d => d.parse::<u32>().ok().filter(|n| (1..=49).contains(n)).map(|n| f64::from(n) / 100.0),
    };
    if word == "lin" {
        Some(Taper::Linear)
    } else if let Some(rest) = word.strip_prefix("revlog") {
        share(rest).map(Taper::ReverseLog)
    } else {
        word.strip_prefix("log").and_then(share).map(Taper::Log)
    }
}
