//! Entries of `let`.

use notation::token::TokenKind;

use super::{Basket, Scene, expressions};

/// `name = expression`: the name is new, so nothing is offered for it.
pub(crate) fn entry(scene: &Scene, out: &mut Basket) {
    if scene.cursor.before.iter().any(|t| t.kind == TokenKind::Equal) {
        expressions::operand(scene, out);
    }
}
