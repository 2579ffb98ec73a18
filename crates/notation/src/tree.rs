//! The trees that text becomes. Every tree is total: what is missing is `None` or [`Step::Missing`], never a failed parse.
//!
//! Places are [`Span`]s in bytes **from the first byte of the entry's own text**, so that an entry that moves keeps its tree.
//! Figures stay as they are written: what `4k7` means is the business of the `quantity` crate, and what it may be at its place
//! is known to the reader of the tree only.

use crate::Name;

/// A place in an entry: bytes from the entry's first byte, end excluded.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Span {
    /// First byte.
    pub start: u32,
    /// One past the last byte.
    pub end: u32,
}

impl Span {
    /// The place from `start` up to, and without, `end`.
    pub fn new(start: usize, end: usize) -> Self {
        Self { start: start as u32, end: end as u32 }
    }
    /// The least place that holds both.
    pub fn to(self, other: Span) -> Self {
        Self { start: self.start.min(other.start), end: self.end.max(other.end) }
    }
    /// As a range of bytes.
    pub fn range(self) -> std::ops::Range<usize> {
        self.start as usize..self.end as usize
    }
}

/// A word with its place: a node's, stage's or setting's name, a quoted text without its marks, a word of the language.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Word {
    /// As written (of a quoted text: what stands between the marks).
    pub text: Name,
    /// Where.
    pub span: Span,
}

/// A part's name: `R12`, `VR1a`, `cold.R1`; also `R` alone while its number is being typed (`number` is then `None`).
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct PartName {
    /// The whole name as written, copies' prefixes included.
    pub text: Name,
    /// Length in bytes of the copies' prefix with its dot (0 without one).
    pub prefix: u32,
    /// The class letters: `R`, `VR`, `C` …
    pub class: Name,
    /// The number, absent while it is being typed.
    pub number: Option<u32>,
    /// The unit letter: one device with the others of the same class and number.
    pub unit: Option<char>,
    /// Where.
    pub span: Span,
}

/// `[+|-] FIGURE [UNIT|%]` or `(expression)`.
#[derive(Clone, Debug, PartialEq)]
pub enum Amount {
    /// A figure with its sign and the unit token that follows it, all undecoded.
    Figure(Figure),
    /// An expression in parentheses.
    Expression(Expr),
}

impl Amount {
    /// Where it stands.
    pub fn span(&self) -> Span {
        match self {
            Amount::Figure(f) => f.span,
            Amount::Expression(e) => e.span,
        }
    }
}

/// An undecoded figure: `-17.8 dBu` is sign `-`, text `17.8`, unit `dBu`.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Figure {
    /// `true` behind a minus sign.
    pub negative: bool,
    /// `true` if a sign was written at all.
    pub signed: bool,
    /// The FIGURE token.
    pub text: Name,
    /// The UNIT or `%` token behind it.
    pub unit: Option<Name>,
    /// Where, sign and unit included.
    pub span: Span,
    /// Where the figure's own token stands (faults inside a figure count from here).
    pub figure_span: Span,
}

/// An expression.
#[derive(Clone, Debug, PartialEq)]
pub struct Expr {
    /// What.
    pub kind: ExprKind,
    /// Where.
    pub span: Span,
}

/// The forms of an expression.
#[derive(Clone, Debug, PartialEq)]
pub enum ExprKind {
    /// A figure.
    Figure(Figure),
    /// A `let` name, or `s`, `f`, `w`, `pi`.
    Name(Name),
    /// A part: its value.
    Part(PartName),
    /// `-x` (or `+x`, which is dropped).
    Negate(Box<Expr>),
    /// `a op b`.
    Binary(Operator, Box<Expr>, Box<Expr>),
    /// `name(argument)`: `sqrt(x)`, `Z(C4)`, `cw(VR1)`.
    Call(Word, Box<Expr>),
    /// `a, b`: the argument of a call that has several, as in `min(a, b)`.
    List(Vec<Expr>),
    /// It has an error in it: what could be read is kept for its names, and has no value.
    Spoiled(Box<Expr>),
    /// Not there yet, or not readable.
    Missing,
}

/// The operators of an expression.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Operator {
    /// `+`
    Add,
    /// `-`
    Subtract,
    /// `*`
    Multiply,
    /// `/`
    Divide,
    /// `^`
    Power,
    /// `||`: ab/(a+b)
    Parallel,
}

/// How much of an entry is there.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Grade {
    /// All of it.
    Whole,
    /// The topology is known; a value, a type or an attribute is missing or unreadable.
    Open,
    /// An end, a node or the part itself is missing.
    Torn,
}

/// One thing to say about an entry or a heading.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fault {
    /// A stable name for the kind of fault, in kebab case: `value-missing`, `path-ends-at-part` …
    pub id: &'static str,
    /// Where.
    pub span: Span,
    /// What to say, one sentence or two.
    pub message: String,
    /// `true`: something is missing at the entry's end, as while it is being typed. It is shown faintly until another entry is edited.
    pub unfinished: bool,
    /// Ways out, the preferred first.
    pub fixes: Vec<Fix>,
}

/// One way out of a fault.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fix {
    /// `write 0R47`
    pub title: String,
    /// Replacements, in places of the same entry.
    pub edits: Vec<(Span, String)>,
}

/// What an entry became.
#[derive(Clone, Debug, PartialEq)]
pub struct Entry {
    /// The tree. It holds every name that the text holds, however broken.
    pub tree: EntryTree,
    /// How much of it is there.
    pub grade: Grade,
    /// The leftmost thing to say, if any.
    pub fault: Option<Fault>,
    /// Names that the text holds and that the tree has no place for. Empty for a whole entry.
    pub strays: Strays,
}

/// Names of an entry that stand where none is wanted: they are declared or used all the same, so that nothing else cascades.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Strays {
    /// Names of nodes, or words that may be.
    pub names: Vec<Word>,
    /// Names of parts.
    pub parts: Vec<PartName>,
}

/// The trees of entries, by the block that they stand in.
#[derive(Clone, Debug, PartialEq)]
pub enum EntryTree {
    /// Of `design`.
    Design(DesignEntry),
    /// Of `let`.
    Let(LetEntry),
    /// Of `stage`: `a -- R1 10k -- b`.
    Path(Path),
    /// Of `stage`: `U1a type: + in, - fb, out drive`.
    Device(Device),
    /// Of `use`: a new value and attributes for a part of the copy.
    Override(Element),
    /// Of `datasheet`.
    Datum(DatasheetEntry),
    /// Of `assume`.
    Assume(AssumeEntry),
    /// Of `formula`.
    Formula(FormulaEntry),
    /// Of `require`.
    Require(RequireEntry),
    /// Nothing could be made of it; the names that it holds are kept.
    Unread {
        /// Names of nodes.
        names: Vec<Word>,
        /// Names of parts.
        parts: Vec<PartName>,
    },
}

/// An entry of `design`.
#[derive(Clone, Debug, PartialEq)]
pub enum DesignEntry {
    /// `band 20 Hz .. 20 kHz`
    Band(Option<Amount>, Option<Amount>),
    /// `reference 1 kHz`
    Reference(Option<Amount>),
    /// `temperature 25 degC`
    Temperature(Option<Amount>),
    /// `supply vpos +12 V, vneg -12 V`
    Supply(Vec<(Word, Option<Tolerated>)>),
    /// `source emf 5 mV peak`
    Source {
        /// The node or pair.
        node: Option<Word>,
        /// The level.
        amount: Option<Amount>,
        /// `peak` or `pp`.
        peak: Option<Word>,
    },
    /// `tolerance R 1 %, C 5 %`
    Tolerance(Vec<(Word, Option<Amount>)>),
    /// `matched R1, R2 0.1 %`
    Matched(Vec<PartRef>, Option<Amount>),
    /// `balanced line: hot, cold`
    Balanced {
        /// The pair's name.
        name: Option<Word>,
        /// The node whose sign is plus.
        hot: Option<Word>,
        /// The other.
        cold: Option<Word>,
    },
    /// `setting low: VR1 0 %, SW1 closed`
    Setting(Option<Word>, Vec<State>),
    /// `trim VR1: gain in -> out = 40 dB`
    Trim(Option<PartRef>, Option<QuantityPhrase>, Option<Amount>),
    /// `accept RULE for NAME: "reason"`
    Accept {
        /// The rule's words.
        rule: Vec<Word>,
        /// A node's, stage's or part's name.
        what: Option<Word>,
        /// The reason.
        reason: Option<Word>,
    },
    /// The first word is none of these.
    Unknown(Word),
}

/// `amount [± amount]`; the first takes the second's unit when it has none.
#[derive(Clone, Debug, PartialEq)]
pub struct Tolerated {
    /// The figure.
    pub amount: Amount,
    /// Its tolerance.
    pub tolerance: Option<Amount>,
}

/// A part, or `all` of its copies.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct PartRef {
    /// `all` was written.
    pub all: bool,
    /// The part.
    pub part: PartName,
}

/// A position of a control, or the name of a setting.
#[derive(Clone, Debug, PartialEq)]
pub enum State {
    /// `low`
    Setting(Word),
    /// `VR1 30 %`, `SW1 closed`, `SW2 3`, `all VR1 100 %`
    Control(PartRef, Option<Position>),
}

/// Where a control stands.
#[derive(Clone, Debug, PartialEq)]
pub enum Position {
    /// `30 %`, or a switch's position number.
    Amount(Amount),
    /// `open`, `closed`
    Word(Word),
}

/// `name = expression`
#[derive(Clone, Debug, PartialEq)]
pub struct LetEntry {
    /// The name.
    pub name: Option<Word>,
    /// Its value.
    pub value: Option<Expr>,
}

/// `node -- part value -- node …`. A whole path begins and ends with a node and has no two nodes in a row.
#[derive(Clone, Debug, PartialEq)]
pub struct Path {
    /// In the order written.
    pub steps: Vec<Step>,
}

/// What stands between two `--`.
#[derive(Clone, Debug, PartialEq)]
pub enum Step {
    /// A node.
    Node(Word),
    /// One part, or several in parallel. A part missing behind `||` is `None`.
    Parts(Vec<Option<Element>>),
    /// Nothing, or nothing readable.
    Missing(Span),
}

/// A part with its value and attributes.
#[derive(Clone, Debug, PartialEq)]
pub struct Element {
    /// The part.
    pub part: PartName,
    /// A figure or an expression directly behind the name. For an amplifier a figure here is a type's name (`5532`).
    pub value: Option<Amount>,
    /// The rest.
    pub attributes: Vec<Attribute>,
    /// Where, from the name to the last attribute.
    pub span: Span,
}

/// What may follow a part's value. An amplifier's type is the first of these, or its value.
#[derive(Clone, Debug, PartialEq)]
pub enum Attribute {
    /// `1%`, `±0.25pF`, `25V`
    Figure {
        /// `±` was written.
        plus_minus: bool,
        /// The figure.
        figure: Figure,
    },
    /// `E24`
    Series(Word),
    /// `polar`, `log`, `external`, an amplifier's type …
    Word(Word),
    /// `"order code"`
    Text(Word),
    /// `at 50 %`, `at 2`
    At(Span, Option<Figure>),
    /// Not readable as an attribute.
    Junk(Span),
}

/// A part with named terminals.
#[derive(Clone, Debug, PartialEq)]
pub struct Device {
    /// The part, its type or value and attributes.
    pub element: Element,
    /// What goes where.
    pub terminals: Vec<Terminal>,
}

/// `+ in`, `out drive`, `supply vcc gnd`, `3 t3`
#[derive(Clone, Debug, PartialEq)]
pub struct Terminal {
    /// Which.
    pub pin: Pin,
    /// The node, or two behind `supply`.
    pub nodes: Vec<Word>,
    /// Where.
    pub span: Span,
}

/// Which terminal of a device.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum Pin {
    /// `+`
    Plus(Span),
    /// `-`
    Minus(Span),
    /// `out`, `cw`, `wiper`, `ccw`, `pole`, `supply`
    Word(Word),
    /// A switch's position.
    Position(Figure),
    /// Not there, or not readable.
    Missing(Span),
}

/// `gain bandwidth typ 3 MHz, min 2 MHz`
#[derive(Clone, Debug, PartialEq)]
pub struct DatasheetEntry {
    /// The words in front of the figures.
    pub words: Vec<Word>,
    /// The figures.
    pub data: Vec<Datum>,
}

/// One figure of a data sheet's line.
#[derive(Clone, Debug, PartialEq)]
pub struct Datum {
    /// `typ`, `min`, `max`
    pub tag: Option<Word>,
    /// The figure, or a range's lower end.
    pub amount: Option<Amount>,
    /// A range's upper end.
    pub to: Option<Amount>,
}

/// `C3, C4 open below 20 kHz`
#[derive(Clone, Debug, PartialEq)]
pub struct AssumeEntry {
    /// What is neglected.
    pub subjects: Vec<Subject>,
    /// `short`, `open` or `ideal`.
    pub neglect: Option<Word>,
    /// Where.
    pub clauses: Vec<AssumeClause>,
}

/// What an assumption speaks of.
#[derive(Clone, Debug, PartialEq)]
pub enum Subject {
    /// A part.
    Part(PartRef),
    /// `stage NAME`
    Stage(Option<Word>),
}

/// A clause of an assumption.
#[derive(Clone, Debug, PartialEq)]
pub enum AssumeClause {
    /// `above 100 Hz`
    Above(Option<Amount>),
    /// `below 20 kHz`
    Below(Option<Amount>),
    /// `over 20 Hz .. 20 kHz`
    Over(Option<Amount>, Option<Amount>),
    /// `on QUANTITY`
    On(Option<QuantityPhrase>),
    /// `within 0.1 dB`
    Within(Option<Amount>),
}

/// `QUANTITY = expression`
#[derive(Clone, Debug, PartialEq)]
pub struct FormulaEntry {
    /// Of what.
    pub quantity: Option<QuantityPhrase>,
    /// The hand algebra.
    pub value: Option<Expr>,
}

/// `QUANTITY [LIMIT]`
#[derive(Clone, Debug, PartialEq)]
pub struct RequireEntry {
    /// Of what.
    pub quantity: Option<QuantityPhrase>,
    /// The limit; parsed apart from the quantity, so that one can be broken and the other stand.
    pub limit: Option<Limit>,
    /// `peak` or `pp` behind the limit's figure.
    pub peak: Option<Word>,
}

/// A limit.
#[derive(Clone, Debug, PartialEq)]
pub enum Limit {
    /// `< x`
    Below(Option<Amount>),
    /// `> x`
    Above(Option<Amount>),
    /// `= x ± t`
    Equal(Option<Tolerated>),
    /// `= a .. b`
    Between(Option<Amount>, Option<Amount>),
}

/// `gain in -> line at 1 kHz when low`
#[derive(Clone, Debug, PartialEq)]
pub struct QuantityPhrase {
    /// The phrase from the closed list (`"low corner"`), or `None` while it is not one yet.
    pub phrase: Option<&'static str>,
    /// Where its words stand.
    pub phrase_span: Span,
    /// What it is of.
    pub subject: PhraseSubject,
    /// `at`, `over`, `when` … in the order written.
    pub clauses: Vec<Clause>,
    /// Where all of it stands.
    pub span: Span,
}

/// What a quantity is of.
#[derive(Clone, Debug, PartialEq)]
pub enum PhraseSubject {
    /// `of N, …`
    Of(Vec<Thing>),
    /// `A -> B`
    FromTo(Option<Point>, Option<Point>),
}

/// A name behind `of`.
#[derive(Clone, Debug, PartialEq)]
pub enum Thing {
    /// A node, pair or stage.
    Name(Word),
    /// A part.
    Part(PartRef),
}

/// A node, a pair, or a sum of them: `low + high`, `p - q`.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Point {
    /// Terms with `true` where the sign is minus.
    pub terms: Vec<(bool, Word)>,
}

/// A clause of a quantity.
#[derive(Clone, Debug, PartialEq)]
pub enum Clause {
    /// `at 1 kHz`
    At(Option<Amount>),
    /// `over 20 Hz .. 20 kHz`
    Over(Option<Amount>, Option<Amount>),
    /// `when low, VR2 0 %`
    When(Vec<State>),
    /// `from emf`
    From(Option<Word>),
    /// `against 20 kHz`, `against curve`
    Against(Option<Against>),
    /// `A-weighted`, `468-weighted`
    Weighted(Word),
}

/// What a flatness or a corner is referred to.
#[derive(Clone, Debug, PartialEq)]
pub enum Against {
    /// A frequency.
    Amount(Amount),
    /// A `let` curve.
    Name(Word),
}

/// The kinds of block.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum BlockKind {
    /// `design`
    Design,
    /// `let`
    Let,
    /// `stage`
    Stage,
    /// `use`
    Use,
    /// `include`
    Include,
    /// `datasheet`
    Datasheet,
    /// `assume`
    Assume,
    /// `formula`
    Formula,
    /// `require`
    Require,
}

/// A heading with its grade and what there is to say about it.
#[derive(Clone, Debug, PartialEq)]
pub struct HeadingEntry {
    /// The tree.
    pub tree: Heading,
    /// How much of it is there.
    pub grade: Grade,
    /// The leftmost thing to say, if any.
    pub fault: Option<Fault>,
}

/// A heading.
#[derive(Clone, Debug, PartialEq)]
pub enum Heading {
    /// `design "TITLE"`
    Design {
        /// The title.
        title: Option<Word>,
    },
    /// `let`
    Let,
    /// `stage NAME: IN -> OUT`
    Stage {
        /// The stage's name.
        name: Option<Word>,
        /// Its ports.
        ports: Option<Ports>,
    },
    /// `use STAGE as NAME: IN -> OUT`
    Use {
        /// The pattern.
        stage: Option<Word>,
        /// The copy's name.
        name: Option<Word>,
        /// Its ports.
        ports: Option<Ports>,
    },
    /// `include "other.stage"`
    Include {
        /// The path as written.
        path: Option<Word>,
    },
    /// `datasheet NAME: opamp`
    Datasheet {
        /// The type's name.
        name: Option<Word>,
        /// `opamp`
        kind: Option<Word>,
    },
    /// `assume [within ERROR]`
    Assume {
        /// The budget.
        within: Option<Amount>,
    },
    /// `formula`
    Formula,
    /// `require`
    Require,
}

/// `IN, IN -> OUT, OUT`
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Ports {
    /// In front of the arrow.
    pub inputs: Vec<Word>,
    /// Behind it.
    pub outputs: Vec<Word>,
}
