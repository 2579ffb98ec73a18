//! `draw`: the circuit as a picture.

use std::process::ExitCode;

use workbench::{Workbench, drawing};

use super::derive::not_found;
use super::output::{complain, finish};
use super::{CLEAN, Draw, FAILED, PROBLEMS, files};
use crate::picture::{FINE, png};

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
    let ends_in = |end: &str| args.output.extension().is_some_and(|e| e.eq_ignore_ascii_case(end));
    let pixels = ends_in("png");
    if !onto_output && !pixels && !ends_in("svg") {
        return Err(format!("{}: the picture is SVG or PNG, so its name ends in .svg or .png", args.output.display()));
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
    let sheet = drawing::draw(&circuit, only);
    let code = if snapshot.torn(&path).is_some() { PROBLEMS } else { CLEAN };
    if onto_output {
        return Ok(finish(&drawing::svg(&circuit, &sheet), code));
    }
    let picture = if pixels {
        png(&drawing::svg_on_white(&circuit, &sheet), FINE).map_err(|why| format!("{why}."))?
    } else {
        drawing::svg(&circuit, &sheet).into_bytes()
    };
    files::write(&args.output, &picture)?;
    Ok(ExitCode::from(code))
}
