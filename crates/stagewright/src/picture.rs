//! SVG of our own as PNG.

use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Options, Tree};

/// The letters: a part of DejaVu Sans (its licence stands beside it), so that a picture is the same on every machine.
const LETTERS: &[u8] = include_bytes!("../fonts/stage-sans.ttf");

/// Pixels on an edge of a PNG for one of the sheet's.
pub const FINE: f32 = 2.0;

/// No picture has more pixels than this on an edge.
const MOST: f32 = 16_384.0;

/// An SVG text as PNG, each of its pixels as `scale` of the picture's. It must have fixed colours: variables are for readers of CSS.
///
/// # Errors
/// What of it cannot be drawn: a clause.
pub fn png(svg: &str, scale: f32) -> Result<Vec<u8>, String> {
    let tree = Tree::from_str(svg, &options()).map_err(|e| format!("the picture cannot be read: {e}"))?;
    let size = tree.size();
    let (width, height) = ((size.width() * scale).round(), (size.height() * scale).round());
    if !(1.0..=MOST).contains(&width) || !(1.0..=MOST).contains(&height) {
        return Err(format!("a picture of {width} by {height} pixels is not made: {MOST} on an edge is the most"));
    }
    let mut pixels =
        Pixmap::new(width as u32, height as u32).ok_or_else(|| "there is no room for the picture".to_string())?;
    resvg::render(&tree, Transform::from_scale(scale, scale), &mut pixels.as_mut());
    pixels.encode_png().map_err(|e| format!("the picture cannot be packed: {e}"))
}

/// Nothing is taken from the system or from files that a picture might name.
fn options() -> Options<'static> {
    let mut options = Options { font_family: "Stage Sans".into(), ..Options::default() };
    let fonts = options.fontdb_mut();
    fonts.load_font_data(LETTERS.to_vec());
    fonts.set_sans_serif_family("Stage Sans");
    options
}

#[cfg(test)]
mod tests {
    use resvg::usvg::{Node, Rect};

    use super::*;

    /// The places of a picture's words as they are really drawn.
    fn words(group: &resvg::usvg::Group, found: &mut Vec<Rect>) {
        for node in group.children() {
            match node {
                Node::Group(group) => words(group, found),
                Node::Text(text) => found.push(text.abs_bounding_box()),
                _ => {}
            }
        }
    }

    #[test]
    fn words_keep_apart_with_real_letters() {
        use workbench::plot::{Axis, Curve, Plot, Sheet, Theme};
        let mut plot = Plot::new(Axis::frequency().from_to(20.0, 20e3), Axis::decibels("gain"));
        plot.title = "gain in -> WWWMMM over VR1".into();
        plot.notes = vec!["rests on typical figures of fet_dual".into()];
        for k in 0..7 {
            let level = f64::from(k) * 0.7;
            let points = (0..=30).map(|n| (20.0 * 1000f64.powf(f64::from(n) / 30.0), level)).collect();
            plot.curves.push(Curve { name: format!("WMQ@% {k} Ω√µ"), points, ..Curve::default() });
        }
        let svg = workbench::plot::svg(&plot, &Sheet { theme: Theme::Light, ..Sheet::default() });
        let tree = Tree::from_str(&svg, &options()).unwrap();
        let mut all = Vec::new();
        words(tree.root(), &mut all);
        assert!(all.len() > 14, "{}", all.len());
        for (i, a) in all.iter().enumerate() {
            assert!(a.left() >= 0.0 && a.right() <= 640.0 && a.top() >= 0.0 && a.bottom() <= 400.0, "{a:?}");
            for b in &all[..i] {
                let meet = a.left() < b.right()
                    && b.left() < a.right()
                    && a.top() + 1.0 < b.bottom()
                    && b.top() + 1.0 < a.bottom();
                assert!(!meet, "{a:?} {b:?}");
            }
        }
        let picture = png(&svg, 1.0).unwrap();
        assert_eq!(&picture[..8], b"\x89PNG\r\n\x1a\n");
        assert_eq!(picture, png(&svg, 1.0).unwrap(), "the same bytes each time");
    }

    #[test]
    fn what_is_no_picture_and_what_is_too_large_are_refused() {
        assert!(png("<svg", 1.0).is_err());
        let empty = |size: u32| format!("<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{size}\" height=\"9\"/>");
        assert!(png(&empty(40_000), 1.0).unwrap_err().contains("16384"));
        assert!(png(&empty(9), 1.0).is_ok());
    }
}
