//! What a person wishes where there is a choice: asked of the client, and heard again whenever it changes.
//!
//! A wish is looked up by its name below `stagewright`. One that is not understood leaves things as they are usual and is told; names that
//! mean nothing here are other programs' business, or those of an extension.

use std::time::Duration;

use serde_json::Value;
use workbench::{HintKind, Levels, Style};

use super::document::UNDER_WAY;

/// The section of a client's configuration.
pub const SECTION: &str = "stagewright";

/// A pause without end would be one that no clock can tell.
const LONGEST_PAUSE: Duration = Duration::from_secs(24 * 3600);

/// When a server looks at a design over its tolerances, which takes many builds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Builds {
    /// When the typist pauses.
    Pause,
    /// When the document is opened or saved.
    Save,
    /// Never.
    Never,
}

/// The wishes.
#[derive(Clone, Debug, PartialEq)]
pub struct Settings {
    /// How long the word that was last touched is taken to be still under way.
    pub pause: Duration,
    /// What is missing at the end of the entry that is being typed is not said at all; else it is a faint mark.
    pub hides_unfinished: bool,
    /// Kinds of hints that are not wanted.
    pub without: Vec<HintKind>,
    /// Code lenses are wanted.
    pub lenses: bool,
    /// How figures beside the text are printed.
    pub style: Style,
    /// What a neglect that the server proposes may cost, in decibels, where the file says nothing of it.
    pub budget: Option<f64>,
    /// When designs are looked at over tolerance.
    pub builds: Builds,
    /// The client shows pictures within Markdown.
    pub pictures: bool,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            pause: UNDER_WAY,
            hides_unfinished: false,
            without: Vec::new(),
            lenses: true,
            style: Style::default(),
            budget: None,
            builds: Builds::Pause,
            pictures: false,
        }
    }
}

/// The kinds of hints by the names that they have here.
const KINDS: [(&str, HintKind); 4] = [
    ("stages", HintKind::Stage),
    ("parts", HintKind::Part),
    ("design", HintKind::Design),
    ("statements", HintKind::Statement),
];

impl Settings {
    /// Reads a section of wishes, and what the client began with for those that it leaves open; with what was not understood as sentences
    /// for whoever wrote them.
    pub fn of(section: &Value, begun: &Value) -> (Self, Vec<String>) {
        let usual = Self::default();
        let mut asked = Asked { sections: [section, begun], faults: Vec::new() };
        let digits = asked.number("digits", 3.0..=9.0, "a number from 3 to 9").map(|n| n as u8);
        let without = KINDS.iter().filter(|(name, _)| asked.truth(&format!("hints.{name}")) == Some(false));
        let without = without.map(|(_, kind)| *kind).collect();
        let settings = Self {
            pause: asked
                .number("pause", 0.0..=f64::MAX, "milliseconds from 0")
                .map_or(usual.pause, |ms| Duration::from_millis(ms as u64).min(LONGEST_PAUSE)),
            hides_unfinished: asked.word("unfinished", &[("faint", false), ("hidden", true)]).unwrap_or(false),
            without,
            lenses: asked.truth("lenses").unwrap_or(usual.lenses),
            style: Style {
                digits: digits.unwrap_or(usual.style.digits),
                // A figure more behind the point of decibels for each digit more.
                decimals: digits.map_or(usual.style.decimals, |digits| digits - 2),
                levels: asked
                    .word("levels", &[("both", Levels::Both), ("dBu", Levels::Dbu), ("V", Levels::Volts)])
                    .unwrap_or(usual.style.levels),
                ..usual.style
            },
            budget: asked.number("budget", 1e-6..=20.0, "decibels, as 0.1"),
            builds: asked
                .word("tolerance", &[("pause", Builds::Pause), ("save", Builds::Save), ("never", Builds::Never)])
                .unwrap_or(usual.builds),
            pictures: asked.truth("pictures").unwrap_or(usual.pictures),
        };
        (settings, asked.faults)
    }
}

/// The section of wishes in what a client sends of its own accord: some send their whole configuration, some only what is meant for this
/// server.
pub fn section(sent: &Value) -> &Value {
    sent.get(SECTION).unwrap_or(sent)
}

/// A section that is being read.
struct Asked<'a> {
    sections: [&'a Value; 2],
    faults: Vec<String>,
}

impl Asked<'_> {
    /// What stands under a name, written in one word with a dot or in two levels; nothing where it is left open.
    fn find(&self, name: &str) -> Option<Value> {
        let stands = |section: &&Value| {
            let levels = || section.get(name.split_once('.')?.0)?.get(name.split_once('.')?.1);
            section.get(name).or_else(levels).filter(|value| !value.is_null()).cloned()
        };
        self.sections.iter().find_map(stands)
    }

    fn take<T>(&mut self, name: &str, wanted: &str, read: impl Fn(&Value) -> Option<T>) -> Option<T> {
        let value = self.find(name)?;
        let found = read(&value);
        if found.is_none() {
            let value = value.to_string();
            let shown: String = value.chars().take(40).collect();
            self.faults.push(format!("The setting {SECTION}.{name} is {shown}, and {wanted} is wanted."));
        }
        found
    }

    fn truth(&mut self, name: &str) -> Option<bool> {
        self.take(name, "true or false", Value::as_bool)
    }

    fn number(&mut self, name: &str, range: std::ops::RangeInclusive<f64>, wanted: &str) -> Option<f64> {
        self.take(name, wanted, |value| value.as_f64().filter(|x| range.contains(x)))
    }

    fn word<T: Copy>(&mut self, name: &str, words: &[(&str, T)]) -> Option<T> {
        let wanted: Vec<String> = words.iter().map(|(word, _)| format!("\"{word}\"")).collect();
        let (last, others) = wanted.split_last()?;
        let wanted = format!("{} or {last}", others.join(", "));
        self.take(name, &wanted, |value| {
            let said = value.as_str()?;
            words.iter().find(|(word, _)| *word == said).map(|(_, meaning)| *meaning)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn of(section: Value) -> Settings {
        let (settings, faults) = Settings::of(&section, &Value::Null);
        assert_eq!(faults, Vec::<String>::new());
        settings
    }

    #[test]
    fn nothing_said_is_as_usual() {
        assert_eq!(of(json!({})), Settings::default());
        assert_eq!(of(Value::Null), Settings::default());
        assert_eq!(of(json!({ "digits": null, "server": { "path": "/bin/true" } })), Settings::default());
    }

    #[test]
    fn wishes_are_heard_in_one_word_or_in_levels() {
        for section in [json!({ "hints": { "parts": false } }), json!({ "hints.parts": false })] {
            assert_eq!(of(section).without, [HintKind::Part]);
        }
        let said = of(json!({ "digits": 5, "levels": "V", "pause": 0, "unfinished": "hidden", "budget": 0.05,
            "tolerance": "save", "lenses": false }));
        assert_eq!((said.style.digits, said.style.decimals, said.style.levels), (5, 3, Levels::Volts));
        assert_eq!((said.pause, said.budget, said.builds), (Duration::ZERO, Some(0.05), Builds::Save));
        assert!(said.hides_unfinished && !said.lenses);
    }

    #[test]
    fn what_is_not_understood_is_told_and_the_rest_is_heard() {
        let section = json!({ "digits": 12, "levels": "volts", "lenses": "no", "budget": 0.2 });
        let (settings, faults) = Settings::of(&section, &Value::Null);
        assert_eq!(settings, Settings { budget: Some(0.2), ..Settings::default() });
        assert_eq!(
            faults,
            [
                "The setting stagewright.digits is 12, and a number from 3 to 9 is wanted.",
                "The setting stagewright.lenses is \"no\", and true or false is wanted.",
                "The setting stagewright.levels is \"volts\", and \"both\", \"dBu\" or \"V\" is wanted.",
            ]
        );
    }

    #[test]
    fn what_is_left_open_is_as_the_client_began() {
        let begun = json!({ "pictures": true, "digits": 4 });
        let (settings, _) = Settings::of(&json!({ "digits": 5, "pictures": null }), &begun);
        assert!(settings.pictures);
        assert_eq!(settings.style.digits, 5);
    }

    #[test]
    fn a_pause_without_end_has_an_end() {
        assert_eq!(of(json!({ "pause": 1e300 })).pause, LONGEST_PAUSE);
    }
}
