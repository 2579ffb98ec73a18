//! The parts list: what to buy for a design, devices of one kind on one row.

use std::cmp::Ordering;
use std::collections::BTreeMap;

use crate::table::{Align, Table};

/// What kind of thing a part is, in the order of the list.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Class {
    /// `R`
    Resistor,
    /// `VR`
    Variable,
    /// `C`
    Capacitor,
    /// `L`
    Inductor,
    /// `SW`
    Switch,
    /// `U`
    Amplifier,
}

/// One part as it stands in the text.
#[derive(Clone, Debug, PartialEq)]
pub struct Item {
    /// The device's designator: `U1` of U1a.
    pub device: String,
    /// Which unit of the device it is: `a` of U1a.
    pub unit: Option<char>,
    /// What it is.
    pub class: Class,
    /// Its value in base units, by which the rows of a class are ordered.
    pub size: f64,
    /// Its value or type, as printed; empty where it has none.
    pub value: String,
    /// How it is made: `film`, `log`.
    pub made: Vec<String>,
    /// `1 %`; empty where nothing is said.
    pub tolerance: String,
    /// `63 V`; empty where nothing is said.
    pub rating: String,
    /// An order code or another note.
    pub code: String,
    /// It is put in.
    pub fitted: bool,
    /// How many units a device of its type holds, where that is known.
    pub in_package: Option<u32>,
}

/// Devices that are bought alike.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// What they are.
    pub class: Class,
    /// Their designators, in the order of their numbers.
    pub devices: Vec<String>,
    /// `resistor`, `variable resistor, 2 gangs`
    pub what: String,
    /// Value or type.
    pub value: String,
    /// `film, log`
    pub made: String,
    /// `1 %`
    pub tolerance: String,
    /// `63 V`
    pub rating: String,
    /// The order code.
    pub code: String,
    /// They are put in.
    pub fitted: bool,
    size: f64,
}

/// A design's parts list.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct List {
    /// Rows: what is put in first, by class, value and number.
    pub rows: Vec<Row>,
    /// What else is to be said, a sentence each: units to spare, packages that hold fewer than are named.
    pub notes: Vec<String>,
}

/// Groups parts by device, and devices by what is bought.
pub fn list(items: &[Item]) -> List {
    let mut devices: BTreeMap<Number, Vec<&Item>> = BTreeMap::new();
    for item in items {
        devices.entry(Number::of(&item.device)).or_default().push(item);
    }
    let mut list = List::default();
    for (number, units) in &devices {
        list.notes.extend(note(&number.0, units));
        let row = row(&number.0, units);
        let alike = |r: &&mut Row| {
            Row { devices: Vec::new(), size: 0.0, ..(**r).clone() }
                == Row { devices: Vec::new(), size: 0.0, ..row.clone() }
        };
        match list.rows.iter_mut().find(alike) {
            Some(same) => same.devices.extend(row.devices),
            None => list.rows.push(row),
        }
    }
    list.notes.extend(fewer(&devices));
    list.rows.sort_by(|a, b| {
        let first = |r: &Row| Number::of(&r.devices[0]);
        (!a.fitted, a.class)
            .cmp(&(!b.fitted, b.class))
            .then(a.size.total_cmp(&b.size))
            .then_with(|| first(a).cmp(&first(b)))
    });
    list
}

fn row(device: &str, units: &[&Item]) -> Row {
    let first = units[0];
    // Units of one device differ in what a line happens to say; all of it counts.
    let all = |of: &dyn Fn(&Item) -> String| {
        let mut said: Vec<String> = Vec::new();
        for text in units.iter().map(|u| of(u)).filter(|t| !t.is_empty()) {
            if !said.contains(&text) {
                said.push(text);
            }
        }
        said.join(" and ")
    };
    let gangs = units.len();
    let what = match first.class {
        Class::Resistor => "resistor".to_string(),
        Class::Variable if gangs > 1 => format!("variable resistor, {gangs} gangs"),
        Class::Variable => "variable resistor".into(),
        Class::Capacitor => "capacitor".into(),
        Class::Inductor => "inductor".into(),
        Class::Switch if gangs > 1 => format!("switch, {gangs} poles"),
        Class::Switch => "switch".into(),
        Class::Amplifier => "amplifier".into(),
    };
    Row {
        class: first.class,
        devices: vec![device.to_string()],
        what,
        value: all(&|u| u.value.clone()),
        made: all(&|u| u.made.join(", ")),
        tolerance: all(&|u| u.tolerance.clone()),
        rating: all(&|u| u.rating.clone()),
        code: all(&|u| u.code.clone()),
        fitted: units.iter().any(|u| u.fitted),
        size: first.size,
    }
}

/// What a package has to spare, or lacks.
fn note(device: &str, units: &[&Item]) -> Option<String> {
    let first = units[0];
    if first.class != Class::Amplifier || !first.fitted {
        return None;
    }
    let holds = first.in_package?;
    let used: Vec<char> = units.iter().map(|u| u.unit.unwrap_or('a')).collect();
    let kind = &first.value;
    if used.len() as u32 > holds {
        return Some(format!(
            "{device} names {} amplifiers, and a package of {kind} holds {holds}: number a second device, or take another type.",
            used.len()
        ));
    }
    let spare: Vec<String> =
        ('a'..='z').take(holds as usize).filter(|c| !used.contains(c)).map(|c| format!("{device}{c}")).collect();
    match &spare[..] {
        [] => None,
        [one] => Some(format!(
            "{one} is to spare in its package: with its + input at gnd and its - input at its output it stays quiet."
        )),
        [head @ .., last] => Some(format!(
            "{} and {last} are to spare in their package: each with its + input at gnd and its - input at its output stays quiet.",
            head.join(", ")
        )),
    }
}

/// Amplifiers of one type that would do with fewer devices.
fn fewer(devices: &BTreeMap<Number, Vec<&Item>>) -> Vec<String> {
    let mut kinds: Vec<(&str, u32, Vec<&str>, u32)> = Vec::new();
    for (number, units) in devices {
        let first = units[0];
        let (Class::Amplifier, true, Some(holds)) = (first.class, first.fitted, first.in_package) else { continue };
        let used = units.len() as u32;
        match kinds.iter_mut().find(|k| k.0 == first.value) {
            Some(kind) => {
                kind.2.push(&number.0);
                kind.3 += used;
            }
            None => kinds.push((&first.value, holds, vec![&number.0], used)),
        }
    }
    let one = |(kind, holds, devices, used): &(&str, u32, Vec<&str>, u32)| {
        let least = used.div_ceil(*holds) as usize;
        let names: Vec<String> = devices.iter().map(|d| d.to_string()).collect();
        (least < devices.len()).then(|| {
            let device = if least == 1 { "device".to_string() } else { format!("{least} devices") };
            let one = if least == 1 { "one " } else { "" };
            format!("The {used} amplifiers of {} would fit into {one}{device} of {kind}.", run(&names))
        })
    };
    kinds.iter().filter_map(one).collect()
}

impl List {
    /// How many devices are put in.
    pub fn count(&self) -> usize {
        self.rows.iter().filter(|r| r.fitted).map(|r| r.devices.len()).sum()
    }

    /// The rows as a table. `short` writes `R1–R4` for `R1 R2 R3 R4`, as a person does.
    pub fn table(&self, short: bool) -> Table {
        let heads = vec![
            ("count", Align::Right),
            ("designators", Align::Left),
            ("part", Align::Left),
            ("value", Align::Left),
            ("made", Align::Left),
            ("tolerance", Align::Left),
            ("rating", Align::Left),
            ("order code", Align::Left),
            ("fitted", Align::Left),
        ];
        let row = |r: &Row| {
            vec![
                r.devices.len().to_string(),
                if short { run(&r.devices) } else { r.devices.join(" ") },
                r.what.clone(),
                r.value.clone(),
                r.made.clone(),
                r.tolerance.clone(),
                r.rating.clone(),
                r.code.clone(),
                match (r.fitted, short) {
                    (false, _) => "not fitted".into(),
                    (true, true) => String::new(),
                    (true, false) => "fitted".into(),
                },
            ]
        };
        Table { heads, rows: self.rows.iter().map(row).collect() }
    }
}

/// `R1–R4, R7`: three numbers and more that follow one another are written as a run.
pub fn run(devices: &[String]) -> String {
    let numbers: Vec<Number> = devices.iter().map(|d| Number::of(d)).collect();
    let mut said = Vec::new();
    let mut at = 0;
    while at < numbers.len() {
        let follows = |k: usize| {
            let (a, b) = (numbers[k - 1].parts(), numbers[k].parts());
            a.0 == b.0 && a.1.is_some() && a.1.map(|n| n + 1) == b.1
        };
        let mut end = at + 1;
        while end < numbers.len() && follows(end) {
            end += 1;
        }
        if end - at >= 3 {
            said.push(format!("{}–{}", numbers[at].0, numbers[end - 1].0));
        } else {
            said.extend(numbers[at..end].iter().map(|n| n.0.clone()));
        }
        at = end;
    }
    said.join(", ")
}

/// A designator that is ordered by its letters and then by its number: R2 in front of R10.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Number(String);

impl Number {
    fn of(device: &str) -> Number {
        Number(device.to_string())
    }

    /// Its letters, with a copy's name in front, and its number.
    fn parts(&self) -> (&str, Option<u64>) {
        let digits = self.0.trim_end_matches(|c: char| c.is_ascii_digit()).len();
        (&self.0[..digits], self.0[digits..].parse().ok())
    }
}

impl Ord for Number {
    fn cmp(&self, other: &Number) -> Ordering {
        self.parts().cmp(&other.parts()).then_with(|| self.0.cmp(&other.0))
    }
}

impl PartialOrd for Number {
    fn partial_cmp(&self, other: &Number) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}
