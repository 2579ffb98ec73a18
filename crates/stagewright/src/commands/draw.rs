//! `draw`: the circuit as a picture.

use std::io::Write;
use std::path::Path;
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
    write(&args.output, &picture)?;
    Ok(ExitCode::from(code))
}

/// Writes a file: all of it, or nothing.
fn write(path: &Path, text: &str) -> Result<(), String> {
    let because = |e: std::io::Error| format!("{} cannot be written: {}", path.display(), files::reason(&e));
    let folder = path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    // What is there and is no plain file (a device, a pipe) is written to and not replaced.
    if std::fs::metadata(path).is_ok_and(|about| !about.is_file()) {
        return std::fs::OpenOptions::new()
            .write(true)
            .open(path)
            .and_then(|mut f| f.write_all(text.as_bytes()))
            .map_err(because);
    }
    let target = path.canonicalize().unwrap_or_else(|_| path.to_path_buf());
    let folder = target.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(folder);
    let mut builder = tempfile::Builder::new();
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // As any new file: for everyone whom the user's mask lets.
        let mode = std::fs::metadata(&target).map_or(0o666, |about| about.permissions().mode());
        builder.permissions(std::fs::Permissions::from_mode(mode));
    }
    let mut file = builder.tempfile_in(folder).map_err(because)?;
    file.write_all(text.as_bytes()).map_err(because)?;
    file.persist(&target).map_err(|e| because(e.error))?;
    Ok(())
}
