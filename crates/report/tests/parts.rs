//! Parts lists of a few parts, and what they say of packages.

use expect_test::expect;
use report::parts::{Class, Item, List, list, run};

fn item(device: &str, unit: Option<char>, class: Class, size: f64, value: &str) -> Item {
    Item {
        device: device.into(),
        unit,
        class,
        size,
        value: value.into(),
        made: Vec::new(),
        tolerance: String::new(),
        rating: String::new(),
        code: String::new(),
        fitted: true,
        in_package: (class == Class::Amplifier).then_some(2),
    }
}

fn resistor(device: &str) -> Item {
    item(device, None, Class::Resistor, 10e3, "10 kΩ")
}

fn amplifier(device: &str, unit: char) -> Item {
    item(device, Some(unit), Class::Amplifier, 0.0, "fet_dual")
}

#[test]
fn what_is_bought_alike_is_one_row() {
    let mut film = item("C2", None, Class::Capacitor, 1e-6, "1 µF");
    film.made = vec!["film".into()];
    let mut spare = resistor("R9");
    spare.fitted = false;
    let plain = item("C1", None, Class::Capacitor, 1e-6, "1 µF");
    let items = [resistor("R10"), resistor("R2"), resistor("R1"), resistor("R3"), film, plain, spare];
    expect![[r#"
        count  designators  part       value  made  fitted
        ─────  ───────────  ─────────  ─────  ────  ──────────
            4  R1–R3, R10   resistor   10 kΩ
            1  C1           capacitor  1 µF
            1  C2           capacitor  1 µF   film
            1  R9           resistor   10 kΩ        not fitted
    "#]]
    .assert_eq(&list(&items).table(true).text());
    assert_eq!(list(&items).count(), 6);
}

#[test]
fn units_of_one_device_are_one() {
    let gang = |unit| item("VR1", Some(unit), Class::Variable, 10e3, "10 kΩ");
    let found = list(&[gang('a'), gang('b'), amplifier("U1", 'a'), amplifier("U1", 'b')]);
    assert_eq!(found.rows[0].what, "variable resistor, 2 gangs");
    assert_eq!((found.count(), found.notes.len()), (2, 0));
}

#[test]
fn packages_tell_what_they_have_to_spare() {
    let notes = |items: &[Item]| list(items).notes;
    assert_eq!(
        notes(&[amplifier("U1", 'a'), amplifier("U2", 'b')]),
        [
            "U1b is to spare in its package: with its + input at gnd and its - input at its output it stays quiet.",
            "U2a is to spare in its package: with its + input at gnd and its - input at its output it stays quiet.",
            "The 2 amplifiers of U1, U2 would fit into one device of fet_dual."
        ]
    );
    let three: Vec<Item> = ['a', 'b', 'c'].map(|unit| amplifier("U3", unit)).into();
    assert_eq!(
        notes(&three),
        ["U3 names 3 amplifiers, and a package of fet_dual holds 2: number a second device, or take another type."]
    );
    // What is not known is not guessed at.
    let unknown = Item { in_package: None, ..amplifier("U4", 'a') };
    assert_eq!(notes(&[unknown]), [""; 0]);
}

#[test]
fn a_cell_is_data_to_a_spreadsheet() {
    let mut one = resistor("R1");
    one.code = "=1+1".into();
    let mut other = resistor("R2");
    other.code = "a, \"b\"".into();
    let csv = list(&[one, other]).table(false).csv();
    assert!(csv.contains(",'=1+1,") && csv.contains(",\"a, \"\"b\"\"\","), "{csv}");
}

#[test]
fn runs_are_written_from_three_on() {
    let of = |names: &[&str]| run(&names.iter().map(|n| n.to_string()).collect::<Vec<_>>());
    assert_eq!(of(&["R1", "R2", "R4"]), "R1, R2, R4");
    assert_eq!(of(&["R1", "R2", "R3", "left.R4", "left.R5", "left.R6"]), "R1–R3, left.R4–left.R6");
    assert_eq!(List::default().count(), 0);
}
