//! `draw`: the circuit as a picture.

use std::process::ExitCode;

use workbench::{Workbench, drawing};

use super::derive::not_found;
use super::output::{complain, finish};
use super::{CLEAN, Draw, FAILED, PROBLEMS, files};

/// Runs the command.
pub fn run(args: &Draw) -> ExitCode {
    match drawn(args) {
        Ok(code) => code,
        Err(why) => {
            complain(&why);
            ExitCode::from(FAILED)
        }
    }
}

fn drawn(args: &Draw) -> Result<ExitCode, String> {
    let onto_output = args.output.as_os_str() == "-";
    if !onto_output && args.output.extension().is_none_or(|e| !e.eq_ignore_ascii_case("svg")) {
        return Err(format!("{}: the picture is SVG, so its name ends in .svg", args.output.display()));
    }
    let text = files::text(&args.file)?;
    let path = args.file.to_string_lossy();
    let mut bench = Workbench::new();
    crate::includes::open(&mut bench, &args.file, text);
    let snapshot = bench.snapshot();
    let Some(circuit) = snapshot.drawn_out(&path) else { return Err(format!("{path} could not be drawn.")) };
    let stages: Vec<String> = circuit.stages.iter().map(|s| s.name.clone()).collect();
    let only = match &args.stage {
        None => None,
        Some(name) => Some(stages.iter().position(|s| s == name).ok_or_else(|| not_found(name, &stages))?),
    };
    if circuit.parts.is_empty() {
        return Err(format!("{path} has no part to draw."));
    }
    let picture = drawing::svg(&circuit, &drawing::draw(&circuit, only));
    let code = if snapshot.torn(&path).is_some() { PROBLEMS } else { CLEAN };
    if onto_output {
        return Ok(finish(&picture, code));
    }
    files::write(&args.output, picture.as_bytes())?;
    Ok(ExitCode::from(code))
}
