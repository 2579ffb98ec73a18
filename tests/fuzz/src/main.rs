//! Runs targets on made-up inputs for a while.
//!
//! ```sh
//! cargo run --release -p stagewright-fuzz -- all 60          # every target for a minute each
//! cargo run --release -p stagewright-fuzz -- format 600 7    # one target for ten minutes, from seed 7
//! cargo run --release -p stagewright-fuzz -- entries find.txt    # one target on one file
//! ```
//!
//! What a target does not bear is printed, made small, and kept as a file below `target/fuzz`. An input on which a target takes more than
//! 20 seconds is a find as well.

use std::path::Path;
use std::process::ExitCode;
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use stagewright_fuzz::{LONGEST, Seeds, TARGETS, run, target, workspace_seeds};

/// No input of a few thousand bytes takes a thousandth of this.
const HANG: Duration = Duration::from_secs(20);

fn main() -> ExitCode {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let names: Vec<&str> = TARGETS.iter().map(|(name, _)| *name).collect();
    let chosen: Vec<&str> = match words.first().map(String::as_str) {
        Some("all") => names,
        Some(name) if target(name).is_some() => vec![name],
        _ => {
            eprintln!("fuzz all|{} SECONDS|FILE [SEED]", names.join("|"));
            return ExitCode::from(2);
        }
    };
    let how = words.get(1).map_or("10", String::as_str);
    let Ok(seconds) = how.parse::<u64>() else { return once(&chosen, how) };
    let seed: u64 = words.get(2).and_then(|s| s.parse().ok()).unwrap_or(1);
    let mut good = true;
    for name in chosen {
        good &= fuzz(name, Duration::from_secs(seconds), seed);
    }
    if good { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

/// Targets on a file; a panic tells what it has to.
fn once(chosen: &[&str], file: &str) -> ExitCode {
    match std::fs::read(file) {
        Ok(data) => chosen.iter().filter_map(|name| target(name)).for_each(|target| target(&data)),
        Err(why) => {
            eprintln!("{file}: {why}");
            return ExitCode::from(2);
        }
    }
    println!("{} targets bear {file}", chosen.len());
    ExitCode::SUCCESS
}

fn fuzz(name: &str, time: Duration, seed: u64) -> bool {
    let Some(target) = target(name) else { return false };
    let mut seeds = Seeds::new(workspace_seeds(), seed);
    let (began, at_work) = (Instant::now(), watch(name.to_string()));
    let tally = run(
        target,
        &mut seeds,
        |_| began.elapsed() < time,
        |input| *at_work.lock().unwrap_or_else(|e| e.into_inner()) = Some((Instant::now(), input.to_vec())),
    );
    *at_work.lock().unwrap_or_else(|e| e.into_inner()) = None;
    let rate = tally.tried as f64 / began.elapsed().as_secs_f64();
    println!(
        "{name:8} seed {seed}: {} inputs, {rate:.0} a second, the slowest {:.1} ms for {} bytes",
        tally.tried,
        tally.slowest.1.as_secs_f64() * 1e3,
        tally.slowest.0.len()
    );
    let Some(find) = tally.find else { return true };
    println!("  find, {} bytes: {:?}\n  {}", find.input.len(), String::from_utf8_lossy(&find.input), find.said);
    keep(name, "find", &find.input);
    false
}

/// A thread that ends the program when one input takes too long.
/// The input at work, and since when.
type AtWork = Arc<Mutex<Option<(Instant, Vec<u8>)>>>;

fn watch(name: String) -> AtWork {
    let at_work: AtWork = Arc::default();
    let seen = Arc::downgrade(&at_work);
    std::thread::spawn(move || {
        while let Some(at_work) = seen.upgrade() {
            let now = at_work.lock().unwrap_or_else(|e| e.into_inner()).clone();
            drop(at_work);
            if let Some((since, input)) = now
                && since.elapsed() > HANG
            {
                println!("{name:8} does not come back within {HANG:?} (inputs are cut at {LONGEST} bytes)");
                keep(&name, "hang", &input);
                std::process::exit(1);
            }
            std::thread::sleep(Duration::from_millis(500));
        }
    });
    at_work
}

fn keep(name: &str, what: &str, input: &[u8]) {
    let folder = Path::new("target/fuzz");
    let file = folder.join(format!("{name}-{what}-{}.txt", input.len()));
    match std::fs::create_dir_all(folder).and_then(|()| std::fs::write(&file, input)) {
        Ok(()) => println!("  kept as {}", file.display()),
        Err(why) => println!("  not kept, {}: {why}", file.display()),
    }
}
