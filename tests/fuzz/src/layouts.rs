//! The canonical layout: what a text says stays, and laying out what is laid out changes nothing.

use crate::laid::{check, check_parts};
use crate::targets::text;

/// The first bytes say which lines and which caret.
pub(crate) fn format(data: &[u8]) {
    let (places, rest) = data.split_at(data.len().min(4));
    let text = text(rest);
    check(&text);
    let place = |high: usize| {
        let wanted =
            places.get(high).map_or(0, |a| usize::from(*a) << 8) + places.get(high + 1).map_or(0, |b| usize::from(*b));
        text.floor_char_boundary(wanted % (text.len() + 1))
    };
    check_parts(&text, place(0), place(2));
}
