//! Columns: what stands above one another in a run of entries, and how far it may be pushed for that ([`super`] has the table).
//!
//! The limits do not depend on the neighbours: a line that is added moves others only as far as its own width.

use crate::format::rows::{Row, What};
use crate::format::spacing::Piece;
use crate::token::TokenKind;
use crate::tree::{BlockKind, EntryTree};

/// What is to be aligned.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Column {
    Node,
    Key,
    Words,
    Name,
    Quantity,
    Limit,
}

impl Column {
    /// The greatest width that takes part.
    fn limit(self) -> usize {
        match self {
            Column::Node | Column::Name => 16,
            Column::Key => usize::MAX,
            Column::Words => 32,
            Column::Quantity | Column::Limit => 56,
        }
    }

    /// The least width.
    fn least(self) -> usize {
        // `tolerance` and `reference` with two blanks, so that the column is the same in nearly every design.
        if self == Column::Key { 10 } else { 0 }
    }

    /// The blanks behind the longest.
    fn gap(self) -> usize {
        // A limit is looked up more often than the quantity is read.
        if self == Column::Limit { 4 } else { 1 }
    }
}

/// The part of a line in front of its column.
#[derive(Debug)]
pub(crate) struct Cell {
    column: Column,
    /// The word that begins the column.
    at: usize,
    /// Characters in front of it.
    width: usize,
}

/// Comments stand this far behind the longest code.
const BEFORE_COMMENT: usize = 4;
/// Code that reaches further moves nobody's comment.
const CODE: usize = 64;

/// The cell of an entry's first line.
pub(crate) fn cell(kind: BlockKind, tree: &EntryTree, line: &[Piece]) -> Option<Cell> {
    let first = |fits: fn(TokenKind) -> bool| {
        let mut depth = 0usize;
        line.iter().position(|piece| {
            match piece.kind {
                TokenKind::Open => depth += 1,
                TokenKind::Close => depth = depth.saturating_sub(1),
                _ => {}
            }
            depth == 0 && fits(piece.kind)
        })
    };
    let (column, at) = match (kind, tree) {
        (BlockKind::Stage, EntryTree::Path(_)) => (Column::Node, (line.get(1)?.kind == TokenKind::Link).then_some(1)?),
        (BlockKind::Design, _) => (Column::Key, 1),
        (BlockKind::Datasheet, EntryTree::Datum(datum)) => (Column::Words, datum.words.len()),
        (BlockKind::Let, _) => (Column::Name, first(|k| k == TokenKind::Equal)?),
        (BlockKind::Formula, _) => (Column::Quantity, first(|k| k == TokenKind::Equal)?),
        (BlockKind::Require, _) => {
            (Column::Limit, first(|k| matches!(k, TokenKind::Equal | TokenKind::Less | TokenKind::Greater))?)
        }
        _ => return None,
    };
    (at > 0 && at < line.len()).then(|| Cell { column, at, width: width(&line[..at]) })
}

fn width(line: &[Piece]) -> usize {
    line.iter().map(|piece| piece.gap + piece.width).sum()
}

/// Aligns every run of the lines.
pub(crate) fn align(rows: &mut [Row], through: Option<usize>) {
    let mut begin = 0;
    for i in 0..rows.len() {
        let ends = match rows[i].what {
            What::Blank => through != Some(i),
            What::Comment | What::Untouched => true,
            What::Laid { heading, .. } | What::Kept { heading } => heading,
        };
        if ends {
            run(&mut rows[begin..i]);
            run(&mut rows[i..=i]);
            begin = i + 1;
        }
    }
    run(&mut rows[begin..]);
}

fn run(rows: &mut [Row]) {
    let cells = rows.iter().filter_map(|row| match &row.what {
        What::Laid { cell, .. } => cell.as_ref(),
        _ => None,
    });
    let common = cells.filter(|c| c.width <= c.column.limit()).map(|c| c.width.max(c.column.least())).max();
    for row in rows.iter_mut() {
        if let What::Laid { pieces, cell: Some(cell), .. } = &mut row.what {
            let common = common.filter(|_| cell.width <= cell.column.limit()).unwrap_or(cell.width);
            pieces[cell.at].gap = common - cell.width + cell.column.gap();
        }
    }
    let code = |row: &Row| match &row.what {
        What::Laid { pieces, .. } if !row.comment.is_empty() => Some(row.indent.unwrap_or(0) + width(pieces)),
        _ => None,
    };
    let common = rows.iter().filter_map(code).filter(|w| *w <= CODE).max().unwrap_or(0);
    for row in rows.iter_mut() {
        if let Some(width) = code(row) {
            row.before_comment = Some(common.saturating_sub(width) + BEFORE_COMMENT);
        }
    }
}
