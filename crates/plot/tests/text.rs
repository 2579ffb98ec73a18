//! Plots in characters, as they stand in a hover or a terminal.

use expect_test::{Expect, expect};
use plot::{Axis, Band, Curve, Dash, Forbidden, Glyphs, Limit, Mark, Plot, Scale, Side, text};
use quantity::Unit;

fn sweep(low: f64, high: f64, level: impl Fn(f64) -> f64) -> Vec<(f64, f64)> {
    (0..=300).map(|k| low * (high / low).powf(f64::from(k) / 300.0)).map(|f| (f, level(f))).collect()
}

fn show(plot: &Plot, columns: usize, rows: usize, glyphs: Glyphs, wanted: Expect) {
    // Blanks at the ends of lines are cut, so that they may stand here.
    let lines: Vec<String> = text(plot, columns, rows, glyphs).lines().map(|l| l.trim_end().to_string()).collect();
    wanted.assert_eq(&format!("\n{}\n", lines.join("\n")));
}

/// An amplifier with a high-pass at 7.2 Hz and a gain that a control sets.
fn amplifier() -> Plot {
    let mut plot = Plot::new(Axis::frequency().from_to(0.7, 600e3), Axis::decibels("gain").deep(80.0));
    plot.title = "gain in -> drive".into();
    for (i, (name, gain)) in [("VR1 0 %", 2.0), ("50 %", 7.0), ("100 %", 52.0)].into_iter().enumerate() {
        let level = |f: f64| {
            20.0 * f64::log10(gain)
                - 10.0 * (1.0 + (7.2 / f).powi(2)).log10()
                - 10.0 * (1.0 + (f * gain / 3e6).powi(2)).log10()
        };
        let shade = Some(i as f64 / 2.0);
        plot.curves.push(Curve { name: name.into(), points: sweep(0.7, 600e3, level), shade, ..Curve::default() });
    }
    plot.marks.push(Mark { x: 7.2, y: 31.3, side: Side::Left, text: "7.2 Hz".into() });
    plot.marks.push(Mark { x: 57.7e3, y: 31.3, side: Side::Left, text: "58 kHz".into() });
    plot
}

#[test]
fn a_hover_shows_a_family_with_its_corners() {
    show(
        &amplifier(),
        44,
        10,
        Glyphs::Braille,
        expect![[r#"

        40 dB┤ ·     ·⢀⣀⣀⣀⣀⣀⣀⣀⣀⣀⣀⣀⣀⣀⣀⣀⣀⣀⣀⣀⣀⡀  ·
             │    ⣀⠔●⠉⠁              100 % ⠈⠉●⠢⣄
           20┤ ⢀⠴⠊   7.2 Hz·      ·50 %58 kHz · ⠑⠢⡀
             │⠒⠁   ⡠⠴⠒⠊⠉⠉⠉⠉⠉⠉⠉⠉⠉⠉⠉⠉⠉⠉⠉⠉⠉⠉⠉⠉⠉⠉⠉⠉⠉⠉⠒⠚⠷
             │  ⣠⠔⠉ ⣀⡠⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤
            0┤⠤⠊ ⣀⠔⠊ ·     ·      · VR1 0 %   ·
             │⢀⠴⠊
          −20┤⠁·     ·     ·      ·     ·     ·
             └─┬───────────┬────────────┬───────────
             1 Hz       100 Hz       10 kHz
    "#]],
    );
}

#[test]
fn a_terminal_shows_the_same_with_its_title() {
    show(
        &amplifier(),
        78,
        18,
        Glyphs::Braille,
        expect![[r#"

        gain in -> drive
             │                    ⣀⣀⣀⣀⣀⣀⣀⣀⣀⣀⣀⣀⣀⣀⣀⣀⣀⣀⣀⣀⣀⣀⣀⣀
             │    7.2 Hz⣀●⠔⠒⠉⠉⠉⠉⠉⠉⠁                      ⠈⠉⠉⠉⠉⠉⠙⠒⠢●⣀58 kHz
        30 dB┤ ·     ⢀⡴⠊⠁ ·          ·          ·         ·        ⠈⠑⢦⡀
             │     ⣀⠖⠁                                                ⠈⠲⣀
           20┤ · ⣠⠞⠁      ·          ·          ·         ·          ·  ⠈⠳⣄
             │ ⡠⠚          ⢀⣀⣀⣠⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⢤⣀⣀⣀ ⠳⢄  100 %
             │⠊        ⣀⠤⠒⠉⠁                                             ⠈⠉⠓⠪⣕ 50 %
           10┤ ·    ⢀⡤⠊⠁  ·          ·          ·         ·          ·
             │    ⢀⠴⠉     ⢀⣀⣀⡤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤ VR1 0 %
             │  ⢀⠔⠁    ⣠⠔⠊⠉
            0┤⢀⠔⠁   ⢀⠴⠊   ·          ·          ·         ·          ·
             │⠁   ⢠⠔⠁
          −10┤ ·⣀⠞⠁       ·          ·          ·         ·          ·
             │⢠⠞⠁
             │⠁
             └─┬──────────┬──────────┬──────────┬─────────┬──────────┬────────
             1 Hz       10 Hz     100 Hz      1 kHz    10 kHz     100 kHz
    "#]],
    );
}

#[test]
fn without_braille_there_are_blocks_and_without_those_ascii() {
    show(
        &amplifier(),
        44,
        10,
        Glyphs::Blocks,
        expect![[r#"

        40 dB┤ ·     ·  ▄▄▄▄▄▄▄▄▄▄▄▄▄▄▄▄▄▄    ·
             │    ▄▄●▀▀▀▘           100 %▝▀▀▀●▄▖
           20┤ ▗▄▀▘  7.2 Hz·      ·50 %58 kHz ·▝▀▙▖
             │▀▘   ▄▟▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀█
             │  ▄▞▀ ▄▄▄▄▄▄▄▄▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀▀▄▄▄▄▄
            0┤▟▀ ▄▞▀ ·     ·      · VR1 0 %   ·
             │▗▞▀
          −20┤▘·     ·     ·      ·     ·     ·
             └─┬───────────┬────────────┬───────────
             1 Hz       100 Hz       10 kHz
    "#]],
    );
    show(
        &amplifier(),
        44,
        12,
        Glyphs::Ascii,
        expect![[r#"

        40 dB+                       100 %
             |      o''''''''''''''''''''''''o
             |   .'' 7.2 Hz        50 %58 kHz ''.
           20+ .'      ......................... '.
             |'    .''''            VR1 0 %     ''':
             |   .'  ...............................
            0+ .' .:'
             |' .'
             |.'
          -20+
             +-+-----------+------------+-----------
             1 Hz       100 Hz       10 kHz
    "#]],
    );
}

#[test]
fn a_second_axis_stands_at_the_right() {
    let mut plot = Plot::new(Axis::frequency().from_to(20.0, 20e3), Axis::decibels("gain"));
    plot.right = Some(Axis::new("phase", Unit::Degree, Scale::Linear));
    let gain = |f: f64| -20.0 * (1.0 + (f / 1e3).powi(2)).log10();
    plot.curves.push(Curve { name: "gain".into(), points: sweep(20.0, 20e3, gain), ..Curve::default() });
    let phase = |f: f64| -2.0 * (f / 1e3).atan().to_degrees();
    let (side, dash) = (Side::Right, Dash::Dashed);
    plot.curves.push(Curve {
        name: "phase".into(),
        points: sweep(20.0, 20e3, phase),
        side,
        dash,
        hue: 1,
        ..Curve::default()
    });
    show(
        &plot,
        52,
        12,
        Glyphs::Braille,
        expect![[r#"

        0 dB┤⣑⣀⣒⣀⣒⣀⣢⣀⣤⣀⣀⣀⣀⣀        ·            ·    ├0°
            │            ⠉⠈⠭⠉⠉⠉⠑⠒⠢⠤⣀gain             │
            │                ⠉⠠⡀    ⠉⠢⢄              ├−45°
            │                   ⠰⢀     ⠑⠦⡀           │
         −20┤         ·          ⠈⠠⡀     ⠈⠢⣄    ·    │
            │                       ⠠⡀     ⠈⠳⣄       ├−90°
            │                         ⠠⡀ phase⠑⣄     │
         −40┤         ·            ·    ⠐⠄     ⠈⠑⢄   ├−135°
            │                             ⠉⠐⠄⣀    ⠑⢄ │
            │                                 ⠈⠁⠘ ⠒ ⠵├−180°
            └┬────────┬────────────┬────────────────┬┘
           20 Hz   100 Hz        1 kHz           20 kHz
    "#]],
    );
}

#[test]
fn a_reading_against_a_controls_travel() {
    let x = Axis::new("VR1", Unit::Percent, Scale::Linear).from_to(0.0, 100.0);
    let mut plot = Plot::new(x, Axis::decibels("gain"));
    let level = |t: f64| 20.0 * (2.0 + 50.0 * (81f64.powf(t) - 1.0) / 80.0).log10();
    let points = (0..=40).map(|k| (2.5 * f64::from(k), level(f64::from(k) / 40.0))).collect();
    plot.curves.push(Curve { points, ..Curve::default() });
    plot.marks.push(Mark { x: 50.0, y: level(0.5), side: Side::Left, text: "rests here".into() });
    show(
        &plot,
        44,
        9,
        Glyphs::Braille,
        expect![[r#"

             │                                  ⢀⡠⠔⠒
        30 dB┤·                  ·          ⣀⠤⠔⠊⠁  ·
             │                         ⢀⡠⠔⠊⠉
           20┤·                  ·⣀⡠⠔⠒⠉⠁           ·
             │              ⢀⣀⠤⠔⠒● rests here
           10┤·      ⣀⣀⡠⠤⠔⠊⠉⠁    ·                 ·
             │⠤⠤⠔⠒⠊⠉⠉
             └┬──────────────────┬─────────────────┬
        VR1  0 %               50 %            100 %
    "#]],
    );
}

#[test]
fn a_limit_is_hatched_on_its_forbidden_side() {
    let mut plot =
        Plot::new(Axis::frequency().from_to(1.0, 10e6), Axis::new("impedance", Unit::Ohm, Scale::Logarithmic));
    let size = |f: f64| 10e6 / (1.0 + (f / 1.6e3).powi(2)).sqrt() + 47.0;
    plot.curves.push(Curve { points: sweep(1.0, 10e6, size), ..Curve::default() });
    let (side, forbidden) = (Side::Left, Forbidden::Below);
    plot.limits.push(Limit { over: (20.0, 20e3), at: 100e3, side, forbidden, name: "> 100 kΩ".into() });
    show(
        &plot,
        48,
        10,
        Glyphs::Braille,
        expect![[r#"

         10 MΩ┤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⣀⣀⡀   ·     ·    ·     ·
              │                   ⠉⠓⠦⣄
          1 MΩ┤·     ·    ·     ·     ⠙⠢⢄⡀  ·    ·     ·
              │                          ⠉⠒⢄⡀
        100 kΩ┤·     ·━━━━━━━━━━━━━━━━━━━   ⠈⠓⠤⣀ ·     ·
              │       ╱╱╱╱╱╱╱╱╱╱╱╱╱╱╱╱╱╱╱      ⠈⠑⠢⣀
         10 kΩ┤·     ·    ·     ·     ·     ·    · ⠙⠢⢄⡀·
          1 kΩ┤·     ·    ·     ·     ·     ·    ·    ⠉⠒
              └┬────────────────┬────────────────┬──────
             1 Hz             1 kHz            1 MHz
    "#]],
    );
}

#[test]
fn a_notch_reaches_the_foot_and_a_band_lies_about_it() {
    let mut plot = Plot::new(Axis::frequency().from_to(5.0, 500.0), Axis::decibels("gain").deep(60.0));
    let notch = |f: f64| {
        let x: f64 = f / 50.0 - 50.0 / f;
        20.0 * (x.abs() / (x * x + 16.0).sqrt()).log10()
    };
    let mut points = sweep(5.0, 500.0, notch);
    points.push((50.0, f64::NEG_INFINITY));
    points.sort_by(|a, b| a.0.total_cmp(&b.0));
    let around = points.iter().map(|p| (p.0, p.1 - 2.0, p.1 + 2.0)).collect();
    plot.bands.push(Band { name: String::new(), points: around, side: Side::Left, hue: 0 });
    plot.curves.push(Curve { points, ..Curve::default() });
    show(
        &plot,
        44,
        10,
        Glyphs::Braille,
        expect![[r#"

        0 dB┤⣄⣠⣀⠄⠠⢀·⡀⢀                ·    ⡀⢀⠠ ⠄⠠⣀⣄⣠
            │⠁⠈ ⠉⠉⠙⠉⠓⠖⠺⢴⢤⣂⠄⡀         ⢀⠠⣐⡬⠤⠳⠒⠊⠋⠙⠉⠉⠁⠈
            │            ⠁⠋⠳⢣⡄⡀   ⢀⢂⠜⠚⠉
         −20┤      ·         ⠘⢳⡀ ⢌⠞⠁  ·
            │                  ⢵⠐⡎
            │                  ⢘⣾⠁
         −40┤      ·            ⣿     ·
            │                   ⣿
            └┬─────┬──────────────────┬────────────┬
           5 Hz  10 Hz             100 Hz     500 Hz
    "#]],
    );
}

#[test]
fn names_that_are_no_ascii_keep_their_width() {
    let mut x = Axis::new("", Unit::One, Scale::Linear).from_to(-0.2, 2.2);
    x.names = vec![(0.0, "Quelle".into()), (1.0, "鐘楼".into()), (2.0, "sortie_é".into())];
    let mut plot = Plot::new(x, Axis::new("level", Unit::Dbu, Scale::Linear));
    for (name, at) in [("clip", 20.0), ("signal", -30.0), ("noise", -100.0)] {
        let points = (0..3).map(|k| (f64::from(k), at + 6.0 * f64::from(k))).collect();
        plot.curves.push(Curve { name: name.into(), points, dotted: true, ..Curve::default() });
    }
    show(
        &plot,
        44,
        12,
        Glyphs::Braille,
        expect![[r#"

             │          ⣀⣀⣀⣀⣀⣀⣀⣀⣀⣀⣀⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠔⠒⠒
             │   ⠉⠉⠉⠉⠉⠉⠉             clip
        0 dBu┤   ·              ·   signal      ·
             │      ⣀⣀⣀⣀⣀⣀⣀⣀⣀⣀⣀⡠⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠔⠒⠒⠒⠒⠒⠒
             │   ⠉⠉⠉
          −50┤   ·              ·               ·
             │                       noise
             │          ⣀⣀⣀⣀⣀⣀⣀⣀⣀⣀⣀⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠔⠒⠒
         −100┤   ⠉⠉⠉⠉⠉⠉⠉        ·               ·
             └───┬──────────────┬───────────────┬───
              Quelle          鐘楼          sortie_é

    "#]],
    );
}
