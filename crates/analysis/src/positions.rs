//! The positions of the controls at which a reading is examined.

use std::collections::HashSet;

use circuit::Name;
use circuit::{Circuit, Control, ControlId, ControlKind, Position, Setting, When};

/// Beyond this many combinations (3⁷) only the ends are tried.
pub const MOST: usize = 2187;

/// The same for what is shown at every key (3⁵): nobody waits there for more.
pub const GLANCE: usize = 243;

/// The same for what is sought in all of a circuit (3⁴), each position of which asks for equations of its own.
pub const SOUGHT: usize = 81;

/// How closely a reading is looked at, and by whose leave.
pub struct Look<'a> {
    /// Beyond this many combinations of the controls only the ends are tried.
    pub most: usize,
    /// Called now and then: it may unwind.
    pub pulse: &'a dyn Fn(),
}

/// The controls of a circuit with their named settings: what a hand can do.
#[derive(Clone, Debug, PartialEq)]
pub struct Hands {
    /// By [`ControlId`].
    pub controls: Vec<Control>,
    /// By name.
    pub settings: Vec<Setting>,
}

/// A position of all controls, with its name.
#[derive(Clone, Debug, PartialEq)]
pub struct Stand {
    /// `low`, or `VR1 0 %, SW1 2`; empty at rest.
    pub name: Name,
    /// By [`ControlId`].
    pub positions: Vec<Position>,
    /// Why it is not known how all controls stand that matter: a clause.
    pub unknown: Option<Name>,
}

impl Hands {
    /// Those of a circuit.
    pub fn of(circuit: &Circuit) -> Hands {
        Hands { controls: circuit.controls.clone(), settings: circuit.settings.clone() }
    }

    /// Every control at rest.
    pub fn rest(&self) -> Stand {
        Stand { name: "".into(), positions: self.controls.iter().map(|c| c.rest).collect(), unknown: None }
    }

    /// Some controls set, the others at rest, for a reading that hangs on the controls `on`.
    pub fn when(&self, when: &When, on: &[ControlId]) -> Stand {
        Stand { unknown: unread(&when.unread, on), ..self.set(&when.name, &when.positions) }
    }

    fn set(&self, name: &str, set: &[(ControlId, Position)]) -> Stand {
        let mut stand = self.rest();
        stand.name = name.into();
        for (control, position) in set {
            stand.positions[control.at()] = *position;
        }
        stand
    }

    /// All positions at which a reading that hangs on these controls is examined: every named setting, and every
    /// combination of 0 %, electrical half and 100 % (of a switch, every position), and where they rest. Positions that differ only in
    /// controls that do not matter count once, under the first name. Beyond `most` combinations they are the ends alone.
    pub fn examined(&self, on: &[ControlId], most: usize) -> Vec<Stand> {
        let on = &self.moved(on)[..];
        let mut all = Vec::new();
        let mut known: HashSet<(Option<Name>, Vec<u64>)> = HashSet::new();
        let mut add = |stand: Stand| {
            let place = |c: &ControlId| match stand.positions[c.at()] {
                // Adding 0 makes −0 the 0 that it is.
                Position::Travel(p) => (p + 0.0).to_bits(),
                Position::Step(n) => u64::from(n),
            };
            if known.insert((stand.unknown.clone(), on.iter().map(place).collect())) {
                all.push(stand);
            }
        };
        for s in &self.settings {
            add(Stand { unknown: unread(&s.unread, on), ..self.set(&s.name, &s.positions) });
        }
        let choices: Vec<Vec<Position>> = on.iter().map(|c| self.choices(*c)).collect();
        let count = choices.iter().try_fold(1usize, |n, c| n.checked_mul(c.len()).filter(|n| *n <= most));
        match count {
            Some(_) => self.combinations(on, &choices, &mut add),
            None => {
                let ends: Vec<Vec<Position>> = choices.iter().map(|c| vec![c[0], c[c.len() - 1]]).collect();
                if 2usize.checked_pow(on.len() as u32).is_some_and(|n| n <= most) {
                    self.combinations(on, &ends, &mut add);
                } else {
                    for k in 0..2 {
                        let set: Vec<_> = on.iter().zip(&ends).map(|(c, e)| (*c, e[k])).collect();
                        add(self.named(&set));
                    }
                }
                for (control, choices) in on.iter().zip(&choices) {
                    for position in choices {
                        add(self.named(&[(*control, *position)]));
                    }
                }
            }
        }
        let rest = self.rest();
        if on.is_empty() {
            add(rest);
        } else {
            let at_rest: Vec<_> = on.iter().map(|c| (*c, rest.positions[c.at()])).collect();
            add(self.named(&at_rest));
        }
        all
    }

    /// Those of some controls that a hand moves: presets are none.
    pub fn moved(&self, on: &[ControlId]) -> Vec<ControlId> {
        on.iter().copied().filter(|c| !self.controls[c.at()].preset).collect()
    }

    /// How many combinations these controls have, of 0 %, electrical half and 100 % and of the positions of switches; `None` beyond counting.
    pub fn count(&self, on: &[ControlId]) -> Option<usize> {
        self.moved(on).into_iter().try_fold(1usize, |n, c| n.checked_mul(self.choices(c).len()))
    }

    fn combinations(&self, on: &[ControlId], choices: &[Vec<Position>], add: &mut impl FnMut(Stand)) {
        let count: usize = choices.iter().map(Vec::len).product();
        for mut k in 0..count {
            // The first control moves fastest, so that the list runs in its order.
            let set: Vec<_> = on
                .iter()
                .zip(choices)
                .map(|(control, c)| {
                    let position = c[k % c.len()];
                    k /= c.len();
                    (*control, position)
                })
                .collect();
            add(self.named(&set));
        }
    }

    fn named(&self, set: &[(ControlId, Position)]) -> Stand {
        let name: Vec<String> =
            set.iter().map(|(c, p)| format!("{} {}", self.controls[c.at()].name, self.say(*c, *p))).collect();
        self.set(&name.join(", "), set)
    }

    /// A position in words: `30 %`, `closed`, `3`.
    pub fn say(&self, control: ControlId, position: Position) -> String {
        match (&self.controls[control.at()].kind, position) {
            (ControlKind::Steps { plain: true, .. }, Position::Step(0)) => "open".into(),
            (ControlKind::Steps { plain: true, .. }, Position::Step(_)) => "closed".into(),
            (_, position) => position.to_string(),
        }
    }

    fn choices(&self, control: ControlId) -> Vec<Position> {
        match &self.controls[control.at()].kind {
            ControlKind::Travel(taper) => {
                vec![Position::Travel(0.0), Position::Travel(taper.electrical_half()), Position::Travel(1.0)]
            }
            ControlKind::Steps { positions, .. } => positions.iter().map(|p| Position::Step(*p)).collect(),
        }
    }
}

/// Why a setting does not tell where all of these controls stand, if it does not.
fn unread(unread: &[(Option<ControlId>, Name)], on: &[ControlId]) -> Option<Name> {
    unread.iter().find(|(c, _)| c.map_or(!on.is_empty(), |c| on.contains(&c))).map(|u| u.1.clone())
}
