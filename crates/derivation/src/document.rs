//! A working as plain data: sentences with symbols in them, equations, results.

use crate::expr::Expr;
use crate::ratio::Ratio;
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
    /// An expression with values put in.
    Figures(Figures),
    /// A line of the notation.
    Notation(String),
}

/// An expression with values put in.
#[derive(Clone, Debug, PartialEq)]
pub struct Figures {
    /// Where: `VR1 0 %`; empty where it is the same all over.
    pub at: String,
    /// What is worked out: `V(out)/V(in)`, `f0`.
    pub what: Expr,
    /// The expression in symbols, where it has not stood there before.
    pub symbols: Option<Expr>,
    /// The expression that the values are put into, and the values: by part, a figure with its unit.
    pub put_in: Option<(Expr, Vec<(String, String)>)>,
    /// What it comes to.
    pub result: String,
}

/// A part of the page under a head.
#[derive(Clone, Debug, PartialEq)]
pub struct Section {
    /// Its head.
    pub head: String,
    /// Its lines.
    pub lines: Vec<Line>,
}

/// A stage's whole derivation.
#[derive(Clone, Debug, PartialEq)]
pub struct Page {
    /// `stage preamp: in → drive`
    pub title: String,
    /// Its parts.
    pub sections: Vec<Section>,
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
    /// As a quotient of polynomials.
    pub ratio: Ratio,
    /// In standard form.
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

/// The difference of two outputs where it follows the difference of two inputs alone.
#[derive(Clone, Debug, PartialEq)]
pub struct Differential {
    /// The outputs' nodes.
    pub outputs: [usize; 2],
    /// The inputs' nodes.
    pub inputs: [usize; 2],
    /// What it is times the inputs' difference; its `input` is the first.
    pub response: Response,
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
    /// Of two outputs, their difference.
    pub differential: Option<Differential>,
    /// The conditions that lie in the amplifiers: feedback.
    pub conditions: Vec<Line>,
    /// What the symbols stand for.
    pub symbols: Symbols,
}
