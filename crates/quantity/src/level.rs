//! Decibel scales and the levels of a sine.

/// The voltage of 0 dBu, √0.6 V: what drives 1 mW into 600 Ω. In volts rms.
pub const DBU_REFERENCE: f64 = 0.774_596_669_241_483_4;

/// 20 log₁₀ |ratio|, for a ratio of voltages or currents. −∞ for 0, which no printing function shows as a number.
pub fn db(ratio: f64) -> f64 {
    20.0 * ratio.abs().log10()
}

/// 10 log₁₀ |ratio|, for a ratio of powers.
pub fn db_power(ratio: f64) -> f64 {
    10.0 * ratio.abs().log10()
}

/// The voltage ratio of so many decibels.
pub fn from_db(decibels: f64) -> f64 {
    10f64.powf(decibels / 20.0)
}

/// The power ratio of so many decibels.
pub fn from_db_power(decibels: f64) -> f64 {
    10f64.powf(decibels / 10.0)
}

/// The level in dBu of a voltage in volts rms.
pub fn dbu(volts: f64) -> f64 {
    db(volts / DBU_REFERENCE)
}

/// The voltage in volts rms of a level in dBu.
pub fn dbu_to_volts(level: f64) -> f64 {
    DBU_REFERENCE * from_db(level)
}

/// The level in dBV of a voltage in volts rms.
pub fn dbv(volts: f64) -> f64 {
    db(volts)
}

/// The voltage in volts rms of a level in dBV.
pub fn dbv_to_volts(level: f64) -> f64 {
    from_db(level)
}

/// The peak value of a sine of this rms value.
pub fn peak_of_rms(rms: f64) -> f64 {
    rms * std::f64::consts::SQRT_2
}

/// The rms value of a sine of this peak value.
pub fn rms_of_peak(peak: f64) -> f64 {
    peak / std::f64::consts::SQRT_2
}

/// The peak-to-peak value of a sine of this rms value.
pub fn peak_to_peak_of_rms(rms: f64) -> f64 {
    2.0 * peak_of_rms(rms)
}

/// The rms value of a sine of this peak-to-peak value.
pub fn rms_of_peak_to_peak(peak_to_peak: f64) -> f64 {
    rms_of_peak(peak_to_peak / 2.0)
}
