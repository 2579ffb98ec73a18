//! From the keystroke to the figures: how long a client waits for the hints of what it shows and for the diagnostics, over the pipes of
//! the real program, beside a server on the same framework that does nothing.
//!
//! ```text
//! cargo build --release -p stagewright -p stagewright-tests
//! target/release/latency [--keys 300] [--pause 30] [--stages 3,25,208]
//! ```
//!
//! A key changes the prefix of a value in the middle of a chain of stages (`design.rs`) from kilohms to milliohms or back: every figure of
//! the stage moves, and a warning comes or goes, so that there is something to publish at each key. "Visible" asks for the hints of sixty lines
//! around it, "whole" for those of the file. Both servers get the same keys at the same pauses, one after the other in one run: an idle
//! machine is slower than a busy one, so that only figures of equal pauses can be compared. "Opened" is from opening the document to its
//! first hints, "burst" from the last of two hundred keys at five milliseconds to its hints. Nothing here decides whether a test passes.

mod design;

use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};

use serde_json::{Value, json};
use stagewright_tests::client::{Client, range};

use design::{Design, design};

const DOCUMENT: &str = "file:///carillon/chain.stage";

/// Keys in front of the measured ones, while caches fill and clocks rise.
const WARM_UP: usize = 20;

/// Keys of a burst.
const BURST: i32 = 200;

struct Times {
    hints: Vec<Duration>,
    diagnostics: Vec<Duration>,
    labels: usize,
    opened: Duration,
    burst: Duration,
}

fn main() {
    let keys = option("--keys").map_or(300, |text| text.parse().expect("a number of keys"));
    let pause = Duration::from_millis(option("--pause").map_or(30, |text| text.parse().expect("milliseconds")));
    let stages = option("--stages").unwrap_or_else(|| "3,25,208".to_string());
    let real = sibling("stagewright");
    let idle = sibling("idle-server");
    println!("{keys} keys, {pause:?} between them; milliseconds from key to client, p50 / p99");
    println!(
        "{:>6} {:>6} {:>8} {:>6}  {:>16} {:>16}  {:>16} {:>16}  {:>12}  {:>8}  {:>8}",
        "lines",
        "parts",
        "asked",
        "hints",
        "hints",
        "diagnostics",
        "idle hints",
        "idle diagn.",
        "ratio of p50",
        "opened",
        "burst"
    );
    for stages in stages.split(',') {
        let design = design(stages.trim().parse().expect("a number of stages"));
        let lines = design.text.lines().count();
        for (asked, around) in [("visible", 30), ("whole", u32::MAX)] {
            let real = measure(&real, &["serve"], &design, around, keys, pause);
            let idle = measure(&idle, &[], &design, around, keys, pause);
            let ratio = median(&real.hints).as_secs_f64() / median(&idle.hints).as_secs_f64();
            println!(
                "{lines:>6} {:>6} {asked:>8} {:>6}  {:>16} {:>16}  {:>16} {:>16}  {ratio:>12.1}  {:>8.1}  {:>8.1}",
                design.parts,
                real.labels,
                both(&real.hints),
                both(&real.diagnostics),
                both(&idle.hints),
                both(&idle.diagnostics),
                millis(real.opened),
                millis(real.burst),
            );
        }
    }
    beside_numpy();
}

/// The solver beside numpy's batched solution, in the same run: by the same script as `tests/run pencil_against_numpy`.
fn beside_numpy() {
    let target = Path::new(env!("CARGO_MANIFEST_DIR")).join("../target");
    let python = target.join("test-tools/venv/bin/python");
    let solver = sibling("latency").with_file_name("examples").join("replay_speed");
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("python/pencil_against_numpy.py");
    if !python.exists() || !solver.exists() {
        println!("the solver beside numpy: left out, since `tests/run pencil_against_numpy` has not set it up yet");
        return;
    }
    println!("the solver beside numpy's batched solution, microseconds a frequency:");
    let ended = Command::new(python).arg(script).arg(solver).status().expect("the script runs");
    assert!(ended.success(), "the solver and numpy differ");
}

fn option(name: &str) -> Option<String> {
    let mut arguments = std::env::args();
    arguments.find(|argument| argument == name)?;
    arguments.next()
}

/// A program that was built into the same folder.
fn sibling(name: &str) -> PathBuf {
    let own = std::env::current_exe().expect("this program has a place");
    let path = own.with_file_name(name);
    assert!(
        path.exists(),
        "{name} is not beside this program: cargo build --release -p stagewright -p stagewright-tests"
    );
    path
}

fn measure(program: &Path, arguments: &[&str], design: &Design, around: u32, keys: usize, pause: Duration) -> Times {
    let mut child = Command::new(program)
        .args(arguments)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::inherit())
        .spawn()
        .expect("the server starts");
    let mut client = connect(&mut child);
    let began = Instant::now();
    client.open(DOCUMENT, &design.text);
    client.diagnostics(1);
    let shown = range((design.line.saturating_sub(around), 0), (design.line.saturating_add(around), 0));
    let ask = json!({ "textDocument": { "uri": DOCUMENT }, "range": shown });
    client.call("textDocument/inlayHint", ask.clone());
    let mut times =
        Times { hints: Vec::new(), diagnostics: Vec::new(), labels: 0, opened: began.elapsed(), burst: Duration::ZERO };
    let at = (design.line, design.column);
    for key in 0..keys + WARM_UP {
        sleep(pause);
        let version = key as i32 + 2;
        let prefix = if key % 2 == 0 { "m " } else { "k " };
        let pressed = Instant::now();
        client.change(DOCUMENT, version, json!([{ "range": range(at, (at.0, at.1 + 2)), "text": prefix }]));
        let id = client.request("textDocument/inlayHint", ask.clone());
        let hints = client.wait(|message| message.get("method").is_none() && message["id"] == id);
        let published = client.wait(|message| {
            message["method"] == "textDocument/publishDiagnostics" && message["params"]["version"] == version
        });
        if key >= WARM_UP {
            times.hints.push(hints.at - pressed);
            times.diagnostics.push(published.at - pressed);
            times.labels = hints.message["result"].as_array().map_or(0, Vec::len);
        }
    }
    times.burst = burst(&mut client, at, (keys + WARM_UP) as i32 + 2, &ask);
    client.call("shutdown", Value::Null);
    client.notify("exit", Value::Null);
    child.wait().expect("the server leaves");
    times
}

/// Types [`BURST`] keys at five milliseconds without waiting for anything; the time from the last of them to its hints.
fn burst(client: &mut Client, at: (u32, u32), first: i32, ask: &Value) -> Duration {
    let mut last = (0, Instant::now());
    for key in 0..BURST {
        let prefix = if key % 2 == 0 { "m " } else { "k " };
        let pressed = Instant::now();
        client.change(DOCUMENT, first + key, json!([{ "range": range(at, (at.0, at.1 + 2)), "text": prefix }]));
        last = (client.request("textDocument/inlayHint", ask.clone()), pressed);
        sleep(Duration::from_millis(5));
    }
    let (id, pressed) = last;
    client.wait(|message| message.get("method").is_none() && message["id"] == id).at - pressed
}

fn connect(child: &mut Child) -> Client {
    let (input, output) = (child.stdin.take().expect("piped"), child.stdout.take().expect("piped"));
    let mut client = Client::over(input, output);
    client.begin(json!({ "general": { "positionEncodings": ["utf-16"] } }));
    client
}

fn quantile(times: &[Duration], share: f64) -> Duration {
    let mut sorted = times.to_vec();
    sorted.sort();
    sorted[((sorted.len() - 1) as f64 * share).round() as usize]
}

fn median(times: &[Duration]) -> Duration {
    quantile(times, 0.5)
}

fn millis(time: Duration) -> f64 {
    time.as_secs_f64() * 1e3
}

fn both(times: &[Duration]) -> String {
    format!("{:.2} / {:.2}", millis(median(times)), millis(quantile(times, 0.99)))
}
