//! A working as plain data: sentences with symbols in them, equations, results.

use crate::expr::Expr;
use crate::shape::Standard;
use crate::system::Symbols;

/// A piece of a sentence.
#[derive(Clone, Debug, PartialEq)]
pub enum Piece {
    /// Words.
    Text(String),
    /// Symbols.
    Math(Expr),
}

/// A line.
#[derive(Clone, Debug, PartialEq)]
pub enum Line {
    /// A sentence.
    Prose(Vec<Piece>),
    /// Sides of an equation, from left to right.
    Equation(Vec<Expr>),
}

/// A sentence of words alone.
pub fn said(text: impl Into<String>) -> Line {
    Line::Prose(vec![Piece::Text(text.into())])
}

/// How one output follows one input.
#[derive(Clone, Debug, PartialEq)]
pub struct Response {
    /// The input's node.
    pub input: usize,
    /// In standard form; `None` where it is 0.
    pub standard: Standard,
    /// As it is written.
    pub expr: Expr,
    /// Whether there is an s in it.
    pub reactive: bool,
}

/// What an output comes to.
#[derive(Clone, Debug, PartialEq)]
pub struct Outcome {
    /// Its node.
    pub output: usize,
    /// By input; those without a say are left out.
    pub responses: Vec<Response>,
}

/// A whole working.
#[derive(Clone, Debug, PartialEq)]
pub struct Working {
    /// The circuit redrawn, in words.
    pub drawn: Vec<Line>,
    /// From Kirchhoff's law to the outputs, line by line.
    pub steps: Vec<Line>,
    /// The outputs.
    pub outcomes: Vec<Outcome>,
    /// The conditions that lie in the amplifiers: feedback.
    pub conditions: Vec<Line>,
    /// What the symbols stand for.
    pub symbols: Symbols,
}
