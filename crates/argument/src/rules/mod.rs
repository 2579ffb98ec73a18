//! The static reviewer's rules: one file each, with its limit, the physics in its message, and what would mend it.
//!
//! A rule is a pure function of plain figures and names. It asks nothing: `workbench` puts the questions, through the same
//! queries as the statements, and knows the places. The faults of a drawing that need no figure (`no-bias-return`,
//! `no-feedback`, `outputs-tied` …) stand in `circuit` and `analysis`.

mod say;

pub mod below_minimum_gain;
pub mod capacitor_reversed;
pub mod clips_at_least_gain;
pub mod common_mode_range;
pub mod corner_moves;
pub mod corners_add_up;
pub mod direct_current_in_track;
pub mod electrolytic_in_filter;
pub mod extra_low_voltage;
pub mod feedback_capacitor_large;
pub mod feedback_capacitor_small;
pub mod feedback_lost;
pub mod half_rail_unfiltered;
pub mod hot_leg_inverted;
pub mod input_beyond_rails;
pub mod legs_unequal;
pub mod line_without_build_out;
pub mod loop_gain_low;
pub mod no_end_stop;
pub mod offset_beyond_rails;
pub mod offset_large;
pub mod output_current_low;
pub mod output_without_bleed;
pub mod over_power;
pub mod over_voltage;
pub mod phase_margin_low;
pub mod rail_undecoupled;
pub mod resistor_noise;
pub mod rests_beyond_rails;
pub mod slew_rate_low;
pub mod source_in_gain;
pub mod source_loaded;
pub mod supply_out_of_range;
pub mod taper_unsuited;
pub mod unused_amplifier;
pub mod wiper_opens_loop;

use circuit::Weight;

/// What a rule has to say.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// The rule, as its problems are called.
    pub rule: &'static str,
    /// What is wrong, why, and what would mend it.
    pub message: String,
    /// The parts, nodes, stages or pairs that it is about: `accept` goes by them.
    pub names: Vec<String>,
    /// Ways out that an editor can apply, the preferred first.
    pub mends: Vec<Mend>,
}

/// A way out as plain data.
#[derive(Clone, Debug, PartialEq)]
pub enum Mend {
    /// Another value for a part, as it is written.
    Value {
        /// The part.
        part: String,
        /// The value.
        value: String,
    },
    /// A part more, below the entry that the message is about: its class letter, and `{}` in the entry for its designator.
    Part {
        /// `R`, `C` …
        class: &'static str,
        /// `out -- {} 100k -- gnd`
        entry: String,
    },
    /// A part the other way round.
    Turn {
        /// The part.
        part: String,
    },
    /// Another word for one of a part's attributes.
    Word {
        /// The part.
        part: String,
        /// As it is.
        from: String,
        /// As it should be.
        to: String,
    },
    /// A resistor in series with a part, in the path that it stands in.
    Series {
        /// The part.
        part: String,
        /// The resistor's value, as it is written.
        value: String,
    },
    /// A resistor between an amplifier's output, with its feedback, and the line that stands at it.
    BuildOut {
        /// The amplifier.
        amplifier: String,
        /// The node of its output, which the line keeps.
        node: String,
        /// The resistor's value, as it is written.
        value: String,
    },
    /// A pair's legs the other way round.
    Swap {
        /// The pair.
        pair: String,
    },
}

impl Finding {
    fn new(rule: &'static str, message: String, names: &[&str]) -> Finding {
        let mut own: Vec<String> = Vec::new();
        for name in names {
            if !own.iter().any(|n| n == name) {
                own.push((*name).to_string());
            }
        }
        Finding { rule, message, names: own, mends: Vec::new() }
    }

    fn mend(mut self, mend: Mend) -> Finding {
        self.mends.push(mend);
        self
    }
}

/// A rule of the reviewer.
#[derive(Clone, Copy, Debug)]
pub struct Rule {
    /// As its problems are called.
    pub id: &'static str,
    /// How much it matters.
    pub weight: Weight,
    /// Its limit in words.
    pub limit: &'static str,
}

const fn rule(id: &'static str, weight: Weight, limit: &'static str) -> Rule {
    Rule { id, weight, limit }
}

/// All rules of the reviewer.
pub const RULES: &[Rule] = &[
    // What an amplifier's loop has left.
    rule(feedback_lost::ID, Weight::Warning, "a way back at every position of the switches"),
    rule(loop_gain_low::ID, Weight::Warning, "10 dB of loop gain at the band's upper edge"),
    rule(phase_margin_low::ID, Weight::Warning, "45° of phase margin"),
    rule(below_minimum_gain::ID, Weight::Warning, "the sheet's minimum gain"),
    // Levels.
    rule(slew_rate_low::ID, Weight::Warning, "the sheet's slew rate"),
    rule(clips_at_least_gain::ID, Weight::Warning, "the swing"),
    rule(rests_beyond_rails::ID, Weight::Error, "the rails; with a signal, the swing"),
    rule(common_mode_range::ID, Weight::Warning, "the input range"),
    rule(output_current_low::ID, Weight::Warning, "the sheet's output current"),
    rule(offset_beyond_rails::ID, Weight::Warning, "what lies between the rails"),
    rule(offset_large::ID, Weight::Warning, "a quarter of the swing"),
    rule(source_loaded::ID, Weight::Warning, "five times the source's impedance"),
    rule(source_in_gain::ID, Weight::Warning, "5 % of an inverting stage's input resistance"),
    rule(corner_moves::ID, Weight::Warning, "the band's lower edge"),
    rule(corners_add_up::ID, Weight::Warning, "3 dB at an edge of the band"),
    rule(resistor_noise::ID, Weight::Note, "60 % of the noise power"),
    // Controls.
    rule(no_end_stop::ID, Weight::Warning, "a resistance in series"),
    rule(wiper_opens_loop::ID, Weight::Warning, "another way of the feedback"),
    rule(direct_current_in_track::ID, Weight::Warning, "50 mV across a track in the signal's way"),
    rule(taper_unsuited::ID, Weight::Note, "20 % to 80 % of the range at half travel"),
    // Capacitors.
    rule(capacitor_reversed::ID, Weight::Error, "0.2 V the wrong way round"),
    rule(
        electrolytic_in_filter::ID,
        Weight::Warning,
        "a tenth of the stage's signal across it, its corner below the band",
    ),
    rule(feedback_capacitor_small::ID, Weight::Warning, "2 pF"),
    rule(feedback_capacitor_large::ID, Weight::Warning, "the band's upper edge"),
    rule(output_without_bleed::ID, Weight::Warning, "0.1 V behind the capacitor"),
    rule(half_rail_unfiltered::ID, Weight::Warning, "a tenth of the rail's ripple at 100 Hz"),
    // Lines and supplies.
    rule(line_without_build_out::ID, Weight::Warning, "100 pF straight at an output"),
    rule(legs_unequal::ID, Weight::Warning, "5 % and 0.1 Ω between the legs"),
    rule(hot_leg_inverted::ID, Weight::Warning, "an even number of inversions"),
    rule(input_beyond_rails::ID, Weight::Error, "0.3 V beyond a rail"),
    rule(rail_undecoupled::ID, Weight::Warning, "10 nF at a rail that is fed through a resistance"),
    rule(supply_out_of_range::ID, Weight::Warning, "the sheet's supply range"),
    // Ratings and voltages.
    rule(over_voltage::ID, Weight::Warning, "the rated voltage"),
    rule(over_power::ID, Weight::Warning, "the rated power"),
    rule(extra_low_voltage::ID, Weight::Warning, "60 V direct, 25 V alternating (IEC 61140)"),
    rule(unused_amplifier::ID, Weight::Warning, "both inputs and the output at something"),
];

/// A rule by its name.
pub fn find(id: &str) -> Option<&'static Rule> {
    RULES.iter().find(|r| r.id == id)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_rule_has_a_name_of_its_own() {
        let mut ids: Vec<&str> = RULES.iter().map(|r| r.id).collect();
        ids.sort_unstable();
        ids.dedup();
        assert_eq!(ids.len(), RULES.len());
    }
}
