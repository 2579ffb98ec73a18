//! `parts`: the parts list.

use std::process::ExitCode;

use workbench::Workbench;
use workbench::report::parts::List;

use super::output::{complain, finish};
use super::{CLEAN, FAILED, PROBLEMS, Parts, PartsFormat, files};

/// Runs the command.
pub fn run(args: &Parts) -> ExitCode {
    match listed(args) {
        Ok(code) => code,
        Err(why) => {
            complain(&why);
            ExitCode::from(FAILED)
        }
    }
}

fn listed(args: &Parts) -> Result<ExitCode, String> {
    let format = format(args)?;
    let text = files::text(&args.file)?;
    let path = args.file.to_string_lossy();
    let mut bench = Workbench::new();
    crate::includes::open(&mut bench, &args.file, text);
    let snapshot = bench.snapshot();
    let list = snapshot.parts_list(&path).filter(|l| !l.rows.is_empty());
    let Some(list) = list else { return Err(format!("{path} has no part to list.")) };
    let page = printed(&list, format);
    let code = if snapshot.torn(&path).is_some() { PROBLEMS } else { CLEAN };
    match &args.output {
        Some(out) if out.as_os_str() != "-" => {
            files::write(out, page.as_bytes())?;
            Ok(ExitCode::from(code))
        }
        _ => Ok(finish(&page, code)),
    }
}

/// As asked, or as the file's name says.
fn format(args: &Parts) -> Result<PartsFormat, String> {
    let Some(out) = args.output.as_ref().filter(|o| o.as_os_str() != "-") else { return Ok(args.format) };
    let end = out.extension().map(|e| e.to_string_lossy().to_ascii_lowercase());
    match end.as_deref() {
        Some("txt") => Ok(PartsFormat::Text),
        Some("md") => Ok(PartsFormat::Markdown),
        Some("csv") => Ok(PartsFormat::Csv),
        _ => Err(format!(
            "{}: a parts list is text, Markdown or CSV, so its name ends in .txt, .md or .csv",
            out.display()
        )),
    }
}

fn printed(list: &List, format: PartsFormat) -> String {
    let notes = |mark: &str| list.notes.iter().map(|n| format!("{mark}{n}\n")).collect::<String>();
    let (devices, rows) = (list.count(), list.rows.iter().filter(|r| r.fitted).count());
    let count = format!(
        "{devices} {} of {rows} {}",
        if devices == 1 { "device" } else { "devices" },
        if rows == 1 { "kind" } else { "kinds" }
    );
    match format {
        PartsFormat::Csv => list.table(false).csv(),
        PartsFormat::Text => format!("{}\n{count}\n{}", list.table(true).text(), notes("")),
        PartsFormat::Markdown => {
            let notes = notes("* ");
            let gap = if notes.is_empty() { "" } else { "\n" };
            format!("{}\n{count}\n{gap}{notes}", list.table(true).markdown())
        }
    }
}
