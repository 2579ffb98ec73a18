//! Colours: of paper and ink, and of curves.
//!
//! The hues are those of Okabe and Ito, "Color Universal Design" (2002, revised 2008, jfly.uni-koeln.de/color), chosen to be told apart with
//! any of the common kinds of colour vision. Words stand in ink, and never does a colour alone tell curves apart.

use std::fmt::Write;

use super::Theme;

type Rgb = [u8; 3];

/// What a colour is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Role {
    Paper,
    Ink,
    /// Lines at figures.
    Grid,
    /// Lines between them.
    Minor,
    /// A curve: its hue, and its shade in hundredths.
    Hue(u8, u8),
}

/// blue, vermillion, bluish green, reddish purple, orange, sky blue
const ON_LIGHT: [Rgb; 6] = [[0, 114, 178], [213, 94, 0], [0, 158, 115], [204, 121, 167], [230, 159, 0], [86, 180, 233]];
/// sky blue, orange, bluish green, reddish purple, yellow, vermillion
const ON_DARK: [Rgb; 6] = [[86, 180, 233], [230, 159, 0], [0, 158, 115], [204, 121, 167], [240, 228, 66], [213, 94, 0]];

fn mix(a: Rgb, b: Rgb, share: f64) -> Rgb {
    [0, 1, 2].map(|i| (f64::from(a[i]) + share * (f64::from(b[i]) - f64::from(a[i]))).round() as u8)
}

fn rgb(role: Role, dark: bool) -> Rgb {
    let (paper, ink) = if dark { ([22, 25, 29], [230, 232, 234]) } else { ([255, 255, 255], [31, 35, 40]) };
    match role {
        Role::Paper => paper,
        Role::Ink => ink,
        Role::Grid => mix(paper, ink, 0.22),
        Role::Minor => mix(paper, ink, 0.10),
        Role::Hue(hue, shade) => {
            let full = if dark { ON_DARK } else { ON_LIGHT }[usize::from(hue) % 6];
            // From a third of the way to the paper, through the hue itself, to a third of the way to the ink.
            let shade = f64::from(shade) / 100.0;
            if shade < 0.5 {
                mix(full, paper, 0.36 * (1.0 - 2.0 * shade))
            } else {
                mix(full, ink, 0.36 * (2.0 * shade - 1.0))
            }
        }
    }
}

fn name(role: Role) -> String {
    match role {
        Role::Paper => "--paper".into(),
        Role::Ink => "--ink".into(),
        Role::Grid => "--grid".into(),
        Role::Minor => "--minor".into(),
        Role::Hue(hue, shade) => format!("--hue{hue}-{shade}"),
    }
}

fn hex([r, g, b]: Rgb) -> String {
    format!("#{r:02x}{g:02x}{b:02x}")
}

/// The colours of a sheet: what is asked for is remembered.
pub(crate) struct Colours {
    theme: Theme,
    used: std::collections::BTreeSet<Role>,
}

impl Colours {
    pub fn new(theme: Theme) -> Colours {
        Colours { theme, used: [Role::Paper, Role::Ink].into() }
    }

    /// What stands in an attribute.
    pub fn of(&mut self, role: Role) -> String {
        self.used.insert(role);
        match self.theme {
            Theme::Light => hex(rgb(role, false)),
            Theme::Dark => hex(rgb(role, true)),
            Theme::Reader => format!("var({})", name(role)),
        }
    }

    /// The style that gives the variables their values, where the reader's setting decides. A variable of one name has one value in all sheets,
    /// so that several may stand in one page.
    pub fn style(&self) -> String {
        if self.theme != Theme::Reader {
            return String::new();
        }
        let values = |dark: bool| {
            self.used.iter().fold(String::new(), |mut text, role| {
                let _ = write!(text, "{}:{};", name(*role), hex(rgb(*role, dark)));
                text
            })
        };
        format!(
            "<style>.stage-plot{{{}}}@media screen and (prefers-color-scheme:dark){{.stage-plot{{{}}}}}</style>\n",
            values(false),
            values(true)
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Relative luminance and contrast by WCAG 2.1 (W3C Recommendation, 2018), sections "relative luminance" and "contrast ratio".
    fn contrast(a: Rgb, b: Rgb) -> f64 {
        let light = |c: Rgb| {
            let one = |v: u8| {
                let v = f64::from(v) / 255.0;
                if v <= 0.03928 { v / 12.92 } else { ((v + 0.055) / 1.055).powf(2.4) }
            };
            0.2126 * one(c[0]) + 0.7152 * one(c[1]) + 0.0722 * one(c[2])
        };
        let (a, b) = (light(a) + 0.05, light(b) + 0.05);
        a.max(b) / a.min(b)
    }

    #[test]
    fn words_and_the_first_hues_stand_out_from_their_paper() {
        for dark in [false, true] {
            let paper = rgb(Role::Paper, dark);
            assert!(contrast(rgb(Role::Ink, dark), paper) > 12.0);
            for hue in 0..3 {
                assert!(contrast(rgb(Role::Hue(hue, 50), dark), paper) > 3.0, "hue {hue}, dark {dark}");
            }
            assert!(contrast(rgb(Role::Hue(0, 0), dark), paper) > 2.0);
        }
    }
}
