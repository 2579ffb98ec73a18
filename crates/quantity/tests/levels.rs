//! Levels, against published figures.

use quantity::{
    DBU_REFERENCE, db, db_power, dbu, dbu_to_volts, dbv, dbv_to_volts, from_db, from_db_power, peak_of_rms,
    peak_to_peak_of_rms, rms_of_peak, rms_of_peak_to_peak,
};

#[track_caller]
fn near(found: f64, expected: f64, tolerance: f64) {
    assert!((found - expected).abs() <= tolerance, "{found} is not {expected} to {tolerance}");
}

#[test]
fn dbu_counts_from_the_root_of_six_tenths() {
    // Source: kfs.oeaw.ac.at, STx manual 461 (0.7746 V); the definition is 1 mW in 600 ohm.
    near(dbu_to_volts(0.0), 0.774597, 1e-6 * 0.774597);
    assert_eq!(DBU_REFERENCE, 0.6f64.sqrt());
    // Source: jeffvautin.com/2009/06/4-dbu-10-dbv (1.228 V).
    near(dbu_to_volts(4.0), 1.228, 0.0005);
    // Source: benchmarkmedia.com, clean audio installation guide, section 4.0 (200 mV is −11.76 dBu).
    near(dbu(0.2), -11.76, 0.005);
}

#[test]
fn dbu_and_dbv_are_a_little_over_two_decibels_apart() {
    // Source: controlbooth.com, "dBV and dBu" (11.78 dB between +4 dBu and −10 dBV).
    near(dbu(dbu_to_volts(4.0)) - dbu(dbv_to_volts(-10.0)), 11.78, 0.005);
    // Computed from the definitions; a table in circulation has 2.21, from 0.775 V.
    near(dbu(dbv_to_volts(0.0)), 2.218, 0.001);
}

#[test]
fn a_sine_of_24_dbu_peaks_above_seventeen_volts() {
    // Computed from the definition: 12.277 V rms.
    near(peak_of_rms(dbu_to_volts(24.0)), 17.36, 0.01);
    near(peak_to_peak_of_rms(dbu_to_volts(24.0)), 2.0 * 17.36, 0.02);
    near(rms_of_peak(peak_of_rms(1.0)), 1.0, 1e-15);
    near(rms_of_peak_to_peak(2.0), std::f64::consts::FRAC_1_SQRT_2, 1e-15);
}

#[test]
fn decibels_go_there_and_back() {
    for decibels in [-120.0, -3.0, 0.0, 6.0, 40.0] {
        near(db(from_db(decibels)), decibels, 1e-12);
        near(db_power(from_db_power(decibels)), decibels, 1e-12);
        near(dbu(dbu_to_volts(decibels)), decibels, 1e-12);
        near(dbv(dbv_to_volts(decibels)), decibels, 1e-12);
    }
    // A phase reversal is no level.
    assert_eq!(db(-2.0), db(2.0));
    assert_eq!(db(0.0), f64::NEG_INFINITY);
}
