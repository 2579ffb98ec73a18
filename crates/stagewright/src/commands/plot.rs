//! `plot`: phrases as curves, in the terminal or as a picture.

use std::io::{IsTerminal, Write};
use std::path::Path;
use std::process::ExitCode;

use workbench::plot::{Plot, Sheet, Theme, svg, text};
use workbench::{Chosen, Refused, Workbench};

use super::output::{blanks, complain, finish, visible};
use super::{CLEAN, Characters, FAILED, Ground, PROBLEMS, PlotFormat, files};
use crate::picture::{FINE, png};

/// Runs the command.
pub fn run(args: &super::Plot) -> ExitCode {
    let failed = |why: &str| {
        complain(why);
        ExitCode::from(FAILED)
    };
    let format = match format(args) {
        Ok(format) => format,
        Err(why) => return failed(&why),
    };
    let design = match files::text(&args.file) {
        Ok(design) => design,
        Err(why) => return failed(&why),
    };
    let mut bench = Workbench::new();
    crate::includes::open(&mut bench, &args.file, design);
    let over = args.over.as_ref().map(|ends| ends.join(" .. "));
    let path = args.file.to_string_lossy();
    let chosen = Chosen { over: over.as_deref(), setting: args.setting.as_deref(), tolerance: args.tolerance };
    let plot = match bench.snapshot().plot(&path, &args.phrases, chosen) {
        Ok(plot) => plot,
        Err(Refused::Wrong { phrase, fault }) => {
            let front = phrase.get(..fault.span.start as usize).unwrap_or(&phrase);
            complain(&format!("this cannot be drawn: {}", visible(&fault.message)));
            let _ = writeln!(std::io::stderr().lock(), "{}\n{}^", visible(&phrase), blanks(&visible(front)));
            return ExitCode::from(PROBLEMS);
        }
        Err(Refused::Not(why)) => {
            complain(&format!("{why}."));
            return ExitCode::from(PROBLEMS);
        }
    };
    match format {
        PlotFormat::Text => {
            let (columns, rows) = args.size.unwrap_or_else(terminal);
            put(args, in_text(&plot, columns, rows, args.characters).into_bytes())
        }
        PlotFormat::Svg => put(args, svg(&plot, &sheet(args, args.ground)).into_bytes()),
        PlotFormat::Png => {
            // A PNG knows no reader's setting.
            let ground = if args.ground == Ground::Reader { Ground::Light } else { args.ground };
            match png(&svg(&plot, &sheet(args, ground)), FINE) {
                Ok(bytes) => put(args, bytes),
                Err(why) => failed(&format!("{why}.")),
            }
        }
    }
}

fn sheet(args: &super::Plot, ground: Ground) -> Sheet {
    let theme = match ground {
        Ground::Reader => Theme::Reader,
        Ground::Light => Theme::Light,
        Ground::Dark => Theme::Dark,
    };
    let usual = Sheet::default();
    let (width, height) = args.size.map_or((usual.width, usual.height), |(w, h)| (w as f64, h as f64));
    Sheet { width, height, theme }
}

/// The plot with its notes under it; a low one has its title above.
fn in_text(plot: &Plot, columns: usize, rows: usize, characters: Characters) -> String {
    let glyphs = match characters {
        Characters::Braille => workbench::plot::Glyphs::Braille,
        Characters::Blocks => workbench::plot::Glyphs::Blocks,
        Characters::Ascii => workbench::plot::Glyphs::Ascii,
    };
    let drawn = text(plot, columns, rows, glyphs);
    let shown = |line: &str| format!("{}\n", visible(line).trim_end());
    drawn.lines().map(shown).chain(plot.notes.iter().map(|n| shown(n))).collect()
}

/// What to write: as asked for, by the name of the file, or text where there is none.
fn format(args: &super::Plot) -> Result<PlotFormat, String> {
    let ending = args.output.as_deref().and_then(Path::extension).map(|e| e.to_string_lossy().to_lowercase());
    match (args.format, ending.as_deref(), &args.output) {
        (Some(format), ..) => Ok(format),
        (None, Some("svg"), _) => Ok(PlotFormat::Svg),
        (None, Some("png"), _) => Ok(PlotFormat::Png),
        (None, Some("txt"), _) | (None, _, None) => Ok(PlotFormat::Text),
        (None, _, Some(path)) => Err(format!(
            "{} does not say what to write: its name ends in .svg, .png or .txt, or --format says it.",
            path.display()
        )),
    }
}

/// Columns and rows of a plot in this terminal.
fn terminal() -> (usize, usize) {
    let usual = (80, 22);
    #[cfg(unix)]
    if std::io::stdout().is_terminal()
        && let Ok(size) = rustix::termios::tcgetwinsize(std::io::stdout())
        && size.ws_col >= 24
    {
        let rows = usize::from(size.ws_row).saturating_sub(4).clamp(10, 30);
        return (usize::from(size.ws_col).min(120), rows);
    }
    #[cfg(not(unix))]
    let _ = std::io::stdout().is_terminal();
    usual
}

/// Writes to the file that was named, as a whole or not at all, or to standard output.
fn put(args: &super::Plot, bytes: Vec<u8>) -> ExitCode {
    let Some(path) = &args.output else {
        if args.format == Some(PlotFormat::Png) && std::io::stdout().is_terminal() {
            complain("a PNG is no text for a terminal: -o OUT.png writes it to a file.");
            return ExitCode::from(FAILED);
        }
        return match String::from_utf8(bytes) {
            Ok(text) => finish(&text, CLEAN),
            Err(bytes) => raw(bytes.as_bytes()),
        };
    };
    match files::write(path, &bytes) {
        Ok(()) => ExitCode::from(CLEAN),
        Err(why) => {
            complain(&why);
            ExitCode::from(FAILED)
        }
    }
}

fn raw(bytes: &[u8]) -> ExitCode {
    let mut out = std::io::stdout().lock();
    match out.write_all(bytes).and_then(|()| out.flush()) {
        Err(error) if error.kind() != std::io::ErrorKind::BrokenPipe => {
            complain(&format!("the output could not be written: {}", files::reason(&error)));
            ExitCode::from(FAILED)
        }
        _ => ExitCode::from(CLEAN),
    }
}
