//! How far the parts of a circuit may be off, and which of them move together.
//!
//! A part moves by its own tolerance, else by its class's, evenly within ±. Parts that are matched share one movement and have
//! one each of their own, and the two are multiplied, so that ratios do not feel what is common: the own one is ±h with
//! (1 + h)/(1 − h) = 1 + m, so that of no two of them the one is more than m above the other in ratio to nominal, and of parts of
//! ±t the common one is ±(t − h)/(1 + h), so that none leaves its ±t. Units of one shaft are set together and move by themselves, unless
//! they are matched.

use circuit::{Circuit, Given, Name, NodeId, Part, PartId, Tolerance};

/// Something that is off by some share of its greatest amount, −1 … 1, apart from everything else.
#[derive(Clone, Debug, PartialEq)]
pub struct Freedom {
    /// `R1`, or `R1, R2 together`: it also names the random numbers that it is drawn from.
    pub name: Name,
    /// The parts that it moves, each by this share of its nominal value at the full amount.
    pub moves: Vec<(PartId, f64)>,
    /// The rail that it moves instead, by this share of its voltage.
    pub rail: Option<(NodeId, f64)>,
}

impl Freedom {
    fn of(name: Name, moves: Vec<(PartId, f64)>) -> Freedom {
        Freedom { name, moves, rail: None }
    }

    /// Its greatest amount, as a share.
    pub fn amount(&self) -> f64 {
        self.rail.or_else(|| self.moves.first().map(|m| (NodeId(0), m.1))).map_or(0.0, |m| m.1)
    }
}

/// All that may be off in a circuit.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Spread {
    /// In the order of the parts; what a group has in common stands at its first part.
    pub freedoms: Vec<Freedom>,
    /// Parts of which it is not known how far they may be off, each with a clause that says why.
    pub doubts: Vec<(PartId, String)>,
    /// The same of rails.
    pub vague: Vec<(NodeId, String)>,
}

/// Parts that are matched with one another, directly or by way of others, and the tightest share that is written for them.
struct Group {
    parts: Vec<PartId>,
    share: Given,
}

impl Spread {
    /// That of a circuit.
    pub fn of(circuit: &Circuit) -> Spread {
        let groups = groups(circuit);
        let (mut freedoms, mut doubts) = (Vec::new(), Vec::new());
        for (i, part) in circuit.parts.iter().enumerate() {
            let id = PartId(i as u32);
            let Some(group) = groups.iter().find(|g| g.parts.contains(&id)) else {
                match share_of(circuit, part) {
                    Ok(Some(share)) => freedoms.push(Freedom::of(part.name.clone(), vec![(id, share)])),
                    Ok(None) => {}
                    Err(why) => doubts.push((id, why)),
                }
                continue;
            };
            let (half, least) = match matched(circuit, group) {
                Ok(found) => found,
                Err(why) => {
                    doubts.extend(value(part).map(|_| (id, why)));
                    continue;
                }
            };
            if group.parts[0] == id && least > half {
                let names: Vec<&str> = group.parts.iter().map(|p| &*circuit.parts[p.at()].name).collect();
                let moves = group.parts.iter().map(|p| (*p, (least - half) / (1.0 + half))).collect();
                freedoms.push(Freedom::of(format!("{} together", names.join(", ")).into(), moves));
            }
            // Without a tolerance of the class the match is all that is known.
            let share = if least > 0.0 { half.min(least) } else { half };
            if share > 0.0 && value(part).is_some() {
                freedoms.push(Freedom::of(part.name.clone(), vec![(id, share)]));
            }
        }
        let mut vague = Vec::new();
        for supply in &circuit.supplies {
            for (node, slack) in &supply.slack {
                let volts = supply.rails.iter().find(|r| r.0 == *node).and_then(|r| r.1.number());
                let (name, known) = (circuit.node_name(*node), |f: &Freedom| f.rail.is_some_and(|r| r.0 == *node));
                let share = match (slack, volts.filter(|v| *v != 0.0)) {
                    (_, None) => continue,
                    (Tolerance::Share(share), _) => *share,
                    (Tolerance::Absolute(by), Some(volts)) => by / volts.abs(),
                    (Tolerance::Unknown, _) => {
                        vague.push((*node, format!("{name}'s tolerance cannot be read")));
                        continue;
                    }
                    (Tolerance::Two, _) => {
                        vague.push((*node, format!("{name} has two tolerances")));
                        continue;
                    }
                };
                if share >= 1.0 {
                    vague.push((*node, format!("{name}'s tolerance takes it down to nothing")));
                } else if share > 0.0 && !freedoms.iter().any(known) {
                    freedoms.push(Freedom { name: name.into(), moves: Vec::new(), rail: Some((*node, share)) });
                }
            }
        }
        Spread { freedoms, doubts, vague }
    }

    /// What of it moves any of these parts or rails.
    ///
    /// # Errors
    /// Says why it is not known of one of them.
    pub fn moving(&self, parts: &[PartId], rails: &[NodeId]) -> Result<Spread, String> {
        if let Some((_, why)) = self.vague.iter().find(|d| rails.contains(&d.0)) {
            return Err(why.clone());
        }
        if let Some((_, why)) = self.doubts.iter().find(|d| parts.contains(&d.0)) {
            return Err(why.clone());
        }
        let touches =
            |f: &&Freedom| f.moves.iter().any(|m| parts.contains(&m.0)) || f.rail.is_some_and(|r| rails.contains(&r.0));
        Ok(Spread { freedoms: self.freedoms.iter().filter(touches).cloned().collect(), ..Spread::default() })
    }

    /// The parts that move, each once, in their order.
    pub fn parts(&self) -> Vec<PartId> {
        let mut all: Vec<PartId> = self.freedoms.iter().flat_map(|f| f.moves.iter().map(|m| m.0)).collect();
        all.sort_unstable();
        all.dedup();
        all
    }

    /// The rails that move, in the order of their freedoms.
    pub fn rails(&self) -> Vec<NodeId> {
        self.freedoms.iter().filter_map(|f| Some(f.rail?.0)).collect()
    }

    /// What each rail's voltage is multiplied by, as [`Spread::factors`].
    pub fn volts(&self, amounts: &[f64]) -> Vec<(NodeId, f64)> {
        let all = self.freedoms.iter().zip(amounts);
        all.filter_map(|(f, amount)| f.rail.map(|(rail, share)| (rail, 1.0 + share * amount))).collect()
    }

    /// What each part's value is multiplied by where each freedom is off by this share of its amount; parts that keep their
    /// value are left out.
    pub fn factors(&self, amounts: &[f64]) -> Vec<(PartId, f64)> {
        let mut all: Vec<(PartId, f64)> = Vec::new();
        for (freedom, amount) in self.freedoms.iter().zip(amounts) {
            all.extend(freedom.moves.iter().map(|(part, share)| (*part, 1.0 + share * amount)));
        }
        // The sort is stable: what a group has in common stays in front of what is a part's own.
        all.sort_by_key(|m| m.0);
        let mut factors: Vec<(PartId, f64)> = Vec::with_capacity(all.len());
        for (part, factor) in all {
            match factors.last_mut() {
                Some(last) if last.0 == part => last.1 *= factor,
                _ => factors.push((part, factor)),
            }
        }
        factors
    }
}

/// A part's nominal value, where it has one that is not 0.
fn value(part: &Part) -> Option<f64> {
    part.kind.value()?.number().filter(|x| *x != 0.0 && !part.unfitted)
}

/// The share by which a part may be off: its own tolerance's, else its class's.
fn share_of(circuit: &Circuit, part: &Part) -> Result<Option<f64>, String> {
    let Some(value) = value(part) else { return Ok(None) };
    let class = part.kind.class();
    let share = match part.tolerance {
        Some(Tolerance::Share(share)) => Some(share),
        Some(Tolerance::Absolute(by)) => Some(by / value.abs()),
        Some(Tolerance::Unknown) => return Err(format!("{}'s tolerance cannot be read", part.name)),
        Some(Tolerance::Two) => return Err(format!("{} has two tolerances", part.name)),
        None => match circuit.tolerances.iter().find(|t| &*t.0 == class).map(|t| &t.1) {
            Some(Given::Number(share)) => Some(*share),
            Some(Given::Unknown(why)) => return Err(why.to_string()),
            None => None,
        },
    };
    match share {
        Some(share) if share >= 1.0 => Err(format!("{}'s tolerance takes it down to nothing", part.name)),
        Some(share) if share > 0.0 => Ok(Some(share)),
        _ => Ok(None),
    }
}

/// How far each part of a group may be off by itself, and the least tolerance of any of them.
fn matched(circuit: &Circuit, group: &Group) -> Result<(f64, f64), String> {
    let share = match &group.share {
        Given::Number(share) => *share,
        Given::Unknown(why) => return Err(why.to_string()),
    };
    let mut least = f64::INFINITY;
    for p in &group.parts {
        least = least.min(share_of(circuit, &circuit.parts[p.at()])?.unwrap_or(0.0));
    }
    Ok((share / (2.0 + share), least))
}

/// The groups of matched parts; groups that share a part are one, with the tightest share, and not known where one of them is not.
fn groups(circuit: &Circuit) -> Vec<Group> {
    let mut all: Vec<Group> = Vec::new();
    for matched in circuit.matched.iter().filter(|m| m.parts.len() > 1 || m.share.number().is_none()) {
        let mut group = Group { parts: matched.parts.clone(), share: matched.share.clone() };
        let (with, apart): (Vec<Group>, Vec<Group>) =
            all.into_iter().partition(|g| g.parts.iter().any(|p| group.parts.contains(p)));
        all = apart;
        for other in with {
            group.parts.extend(other.parts);
            group.share = match (group.share, other.share) {
                (Given::Number(a), Given::Number(b)) => Given::Number(a.min(b)),
                (unknown @ Given::Unknown(_), _) | (_, unknown) => unknown,
            };
        }
        group.parts.sort_unstable();
        group.parts.dedup();
        all.push(group);
    }
    all
}
