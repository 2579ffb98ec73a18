//! From Kirchhoff's law to the outputs, a line at a time.

use std::collections::BTreeSet;

use crate::document::{Differential, Line, Outcome, Piece, Response, Working, said};
use crate::expr::{Expr, unsigned};
use crate::immittance::{Immittance, Kind, Lump};
use crate::kinds::{Sentence, sentences, voltage};
use crate::network::{Drawn, Network};
use crate::outcome::{WRITTEN, outcome, response};
use crate::ratio::Ratio;
use crate::redrawn::{distances, feedback, left_out, listed};
use crate::system::{Block, Combination, Law, Refusal, Symbols, System};
use crate::written::with_s;

/// Of more parts than this nobody begins.
const PARTS: usize = 60;
/// So many voltages that hang on each other are the most that a person would untangle. What they come to has its own bound: one after the
/// other they are told by few others, or by more terms than anybody would write.
const TANGLED: usize = 8;

/// Works a network out.
///
/// # Errors
/// It is past what a person would do by hand, or has no unique answer.
pub fn working(network: &Network) -> Result<Working, Refusal> {
    if network.parts.len() > PARTS {
        return Err(Refusal::Past);
    }
    let drawn = network.drawn();
    let system = System::of(network, &drawn)?;
    if system.blocks.iter().any(|b| b.unknowns.len() > TANGLED) {
        return Err(Refusal::Past);
    }
    let mut writer = Writer { network, drawn: &drawn, system: &system, shown: system.same.clone(), lines: Vec::new() };
    writer.shorts();
    for block in &system.blocks {
        writer.block(block)?;
    }
    let mut symbols = system.symbols.clone();
    let mut outcomes = Vec::new();
    for output in &network.outputs {
        let combination = system.outright(network, *output)?;
        let outcome = outcome(*output, &combination, &mut symbols)?;
        writer.result(&outcome, &combination);
        outcomes.push(outcome);
    }
    let differential = writer.differential(&outcomes, &mut symbols)?;
    let mut redrawn: Vec<Line> = sentences(network, &drawn).into_iter().map(Line::Prose).collect();
    redrawn.extend(left_out(network, &drawn));
    let conditions = feedback(network);
    Ok(Working { drawn: redrawn, steps: writer.lines, outcomes, differential, conditions, symbols })
}

struct Writer<'a> {
    network: &'a Network,
    drawn: &'a Drawn,
    system: &'a System,
    /// By node: the one by whose voltage it is told, by virtual shorts and by what was found on the way.
    shown: Vec<usize>,
    lines: Vec<Line>,
}

impl Writer<'_> {
    fn voltage(&self, node: usize) -> Expr {
        voltage(self.network, self.shown[node])
    }

    /// The virtual shorts, and why they hold: said once at length.
    fn shorts(&mut self) {
        for (k, amp) in self.network.amplifiers.iter().enumerate() {
            let network = self.network;
            let start = Sentence(Vec::new());
            let until = if amp.minus == amp.out { "there is" } else { "what comes back through its feedback leaves" };
            let sentence = if k == 0 {
                start.say(format!(
                    "{}'s output moves until {until} no voltage between its inputs, and no current flows into them: ",
                    amp.name
                ))
            } else {
                start.say(format!("{} likewise: ", amp.name))
            };
            let earth = if amp.plus == 0 && amp.minus != amp.out { ", a virtual earth." } else { "." };
            let sentence = sentence
                .math(Expr::Voltage(network.nodes[amp.minus].clone()))
                .say(" = ")
                .voltage(network, amp.plus)
                .say(earth);
            self.lines.push(Line::Prose(sentence.0));
        }
    }

    /// Voltages that are worked out together.
    fn block(&mut self, block: &Block) -> Result<(), Refusal> {
        let mut left: Vec<usize> = block.laws.clone();
        let (mut laws, mut unknowns): (Vec<usize>, Vec<usize>) = (Vec::new(), Vec::new());
        // By eliminated voltage: those of the block that it is told by.
        let mut told: Vec<(usize, BTreeSet<usize>)> = Vec::new();
        let mut open: BTreeSet<usize> = block.unknowns.iter().copied().collect();
        let wanted = |u: &usize| self.network.outputs.iter().any(|o| self.system.same[*o] == *u);
        // What is told last is wanted, and of several that which stands nearest to the input: a loop is untangled from its entry.
        let steps = distances(self.network, self.drawn);
        let last = *block.unknowns.iter().min_by_key(|u| (!wanted(u), steps[**u], **u)).ok_or(Refusal::NoAnswer)?;
        while !left.is_empty() {
            let reach = |law: &usize| -> BTreeSet<usize> {
                let mut found = BTreeSet::new();
                let mut see: Vec<usize> =
                    self.system.laws[*law].row.keys().copied().filter(|u| block.unknowns.contains(u)).collect();
                let mut seen = BTreeSet::new();
                while let Some(u) = see.pop() {
                    if !seen.insert(u) {
                        continue;
                    }
                    match told.iter().find(|t| t.0 == u) {
                        Some((_, by)) => see.extend(by.iter().copied()),
                        None => {
                            found.insert(u);
                        }
                    }
                }
                found
            };
            let terms = |law: &usize| self.system.laws[*law].row.len();
            let next = (0..left.len()).min_by_key(|i| (reach(&left[*i]).len(), terms(&left[*i]))).unwrap_or(0);
            let law = left.remove(next);
            let reached = reach(&law);
            let made = |u: &usize| self.network.amplifiers.iter().any(|a| a.out == *u);
            // A voltage that an amplifier makes is told by those around it last but one.
            let target = reached.iter().copied().min_by_key(|u| (*u == last, wanted(u), made(u), *u));
            let target =
                target.filter(|_| !left.is_empty()).or_else(|| open.iter().next().copied()).ok_or(Refusal::NoAnswer)?;
            open.remove(&target);
            laws.push(law);
            unknowns.push(target);
            let combination = self.system.solved(&laws, &unknowns, target)?;
            let by = combination.iter().map(|c| c.0).filter(|u| open.contains(u)).collect();
            told.push((target, by));
            self.law(&self.system.laws[law].clone(), target);
            let put_in: Vec<usize> = unknowns[..unknowns.len() - 1]
                .iter()
                .copied()
                .filter(|u| self.system.laws[law].row.contains_key(u))
                .collect();
            self.solution(target, &combination, &put_in)?;
        }
        Ok(())
    }

    /// Kirchhoff's law at a node as an equation of what comes and what goes.
    fn law(&mut self, law: &Law, target: usize) {
        let same = &self.shown;
        let own = same[law.node];
        // Where there is no voltage across a branch, nothing flows in it.
        let all: Vec<(u32, usize)> = law.branches.iter().copied().filter(|(_, n)| same[*n] != own).collect();
        let name = &self.network.nodes[law.node];
        let draws = self.network.amplifiers.iter().find_map(|a| {
            (a.plus == law.node).then_some((a, "+")).or_else(|| (a.minus == law.node).then_some((a, "−")))
        });
        if let ([(bit, other)], []) = (&all[..], &law.currents[..]) {
            let (bit, other) = (*bit, *other);
            // The only branch: nothing can flow in it.
            let what = &self.system.symbols.0[bit as usize].what;
            let nothing = match draws {
                Some((amp, sign)) => format!("{}'s {sign} input draws nothing", amp.name),
                None => format!("Nothing is drawn from {name}"),
            };
            let other = match same[other] {
                0 => "gnd".to_string(),
                n => self.network.nodes[n].clone(),
            };
            let sentence = Sentence(Vec::new()).say(format!("{nothing}, so no current flows in ")).name(what);
            self.lines.push(Line::Prose(sentence.say(format!(" between {name} and {other}:")).0));
            return;
        }
        let is_foot = |n: usize| same[n] == 0;
        let is_target = |n: usize| self.system.same[n] == target && self.system.same[law.node] != target;
        let (mut come, mut go): (Vec<_>, Vec<_>) =
            all.iter().copied().partition(|(_, n)| !is_foot(*n) && !is_target(*n));
        if come.is_empty() && law.currents.is_empty() {
            (come, go) = go.into_iter().partition(|(_, n)| !is_foot(*n));
        }
        if go.is_empty() && come.len() + law.currents.len() > 1 {
            go.extend(come.pop());
        }
        let sum = |list: &[(u32, usize)], coming: bool| -> Expr {
            if list.is_empty() {
                return Expr::Integer(0);
            }
            let current = |(bit, other): &(u32, usize)| {
                let (from, to) = if coming { (*other, law.node) } else { (law.node, *other) };
                self.current(*bit, from, to)
            };
            Expr::sum(list.iter().map(current).collect())
        };
        let prose = match draws {
            Some((amp, sign)) => {
                format!("At {name}, where {}'s {sign} input draws nothing, what flows in flows on:", amp.name)
            }
            None => format!("At {name}, what flows in flows on:"),
        };
        let mut driven: Vec<(bool, Expr)> = law.currents.iter().map(|i| (false, voltage(self.network, *i))).collect();
        let comes = match driven.is_empty() {
            true => sum(&come, true),
            false => {
                driven.extend((!come.is_empty()).then(|| (false, sum(&come, true))));
                Expr::sum(driven)
            }
        };
        let sides = vec![comes, sum(&go, false)];
        self.lines.push(said(prose));
        self.lines.push(Line::Equation(sides));
    }

    /// The current in a branch, with its sign where nothing but a minus stands in front.
    fn current(&self, bit: u32, from: usize, to: usize) -> (bool, Expr) {
        let (from, to) = (self.shown[from], self.shown[to]);
        let (minus, volts) = match (from, to) {
            (0, to) => (true, voltage(self.network, to)),
            (from, 0) => (false, voltage(self.network, from)),
            (from, to) => {
                (false, Expr::Sum(vec![(false, voltage(self.network, from)), (true, voltage(self.network, to))]))
            }
        };
        let what = &self.system.symbols.0[bit as usize].what;
        let expr = match what {
            Immittance::Lump(Lump { kind: Kind::C, value }) => Expr::product(vec![Expr::S, value.clone(), volts]),
            other => Expr::over(volts, other.impedance()),
        };
        (minus, expr)
    }

    fn solution(&mut self, target: usize, combination: &Combination, put_in: &[usize]) -> Result<(), Refusal> {
        for (_, ratio) in combination {
            let (above, below) = ratio.whole()?;
            if above.0.len() > WRITTEN || below.0.len() > WRITTEN {
                return Err(Refusal::Past);
            }
        }
        // A voltage that was found to be 0 adds nothing.
        let told: Combination = combination.iter().filter(|(node, _)| self.shown[*node] != 0).cloned().collect();
        let sum = self.combined(&told);
        if !put_in.is_empty() {
            let names: Vec<String> = put_in.iter().map(|u| format!("V({})", self.network.nodes[*u])).collect();
            self.lines.push(said(format!("With {} put in:", listed(&names))));
        }
        self.lines.push(Line::Equation(vec![voltage(self.network, target), sum]));
        // What is 0, or one with another voltage, is told as that from here on.
        let alias = match &told[..] {
            [] => Some(0),
            [(node, ratio)] if ratio.is_number(1) => Some(self.shown[*node]),
            _ => None,
        };
        if let Some(alias) = alias {
            self.shown.iter_mut().filter(|n| **n == target).for_each(|n| *n = alias);
        }
        Ok(())
    }

    /// Voltages times their quotients.
    fn combined(&self, combination: &Combination) -> Expr {
        let term = |(node, ratio): &(usize, Ratio)| {
            // Its factors may be turned round as they are written, and then the minus in front is another one.
            let (minus, size) = unsigned(with_s(ratio, &self.system.symbols));
            (minus, Expr::product(vec![size, self.voltage(*node)]))
        };
        Expr::sum(combination.iter().map(term).collect())
    }

    /// The difference of two outputs, where it follows the difference of two inputs alone.
    fn differential(&mut self, outcomes: &[Outcome], symbols: &mut Symbols) -> Result<Option<Differential>, Refusal> {
        let [p, q] = self.network.outputs[..] else { return Ok(None) };
        if !self.network.currents.is_empty() {
            return Ok(None);
        }
        // Two outputs that have nothing to do with each other's inputs have no difference to speak of.
        if outcomes.iter().any(|o| o.responses.len() != 2) {
            return Ok(None);
        }
        let Ok(combination) = self.system.difference(self.network, [p, q]) else { return Ok(None) };
        let [(a, first), (b, second)] = &combination[..] else { return Ok(None) };
        if *first != (Ratio { number: -second.number, ..second.clone() }) {
            return Ok(None);
        }
        // The input that the first output follows without a minus stands first.
        let ([a, b], ratio) = if first.number > 0 { ([*a, *b], first) } else { ([*b, *a], second) };
        let response = response(a, ratio, symbols)?;
        let apart =
            |x: usize, y: usize| Expr::Sum(vec![(false, voltage(self.network, x)), (true, voltage(self.network, y))]);
        let (minus, size) = unsigned(response.expr.clone());
        let right = Expr::product(vec![size, apart(a, b)]).signed(minus);
        self.lines.push(said("The one less the other:"));
        self.lines.push(Line::Equation(vec![apart(p, q), right]));
        Ok(Some(Differential { outputs: [p, q], inputs: [a, b], response }))
    }

    /// What an output comes to.
    fn result(&mut self, outcome: &Outcome, combination: &Combination) {
        let out = voltage(self.network, outcome.output);
        match (&outcome.responses[..], &combination[..]) {
            ([one], [(node, ratio)]) => {
                // Where the last line says as much already, this one takes its place.
                let last = Line::Equation(vec![out.clone(), self.combined(&vec![(*node, ratio.clone())])]);
                let mut sides = vec![Expr::over(out, voltage(self.network, one.input))];
                if ratio.symbols() & self.system.symbols.mixed() != 0 {
                    sides.push(with_s(ratio, &self.system.symbols));
                }
                if sides.last() != Some(&one.expr) {
                    sides.push(one.expr.clone());
                }
                match self.lines.last() == Some(&last) {
                    true => drop(self.lines.pop()),
                    false => self.lines.push(said("So:")),
                }
                self.lines.push(Line::Equation(sides));
            }
            ([], _) => self.lines.push(Line::Equation(vec![out, Expr::Integer(0)])),
            (several, _) => {
                let term = |r: &Response| {
                    let (minus, size) = unsigned(r.expr.clone());
                    (minus, Expr::product(vec![size, voltage(self.network, r.input)]))
                };
                let sum = Expr::sum(several.iter().map(term).collect());
                let line = Line::Equation(vec![out, sum]);
                if !self.lines.contains(&line) {
                    self.lines.push(said("So, each input by itself and the others at 0, added up:"));
                    self.lines.push(line);
                }
            }
        }
    }
}

impl Sentence {
    fn math(mut self, expr: Expr) -> Sentence {
        self.0.push(Piece::Math(expr));
        self
    }
}
