//! What is said of a command line that cannot be meant: what is wrong, and the way out.

use std::ffi::OsString;
use std::process::ExitCode;

use clap::error::{ContextKind, ContextValue, ErrorKind};
use clap::{Arg, Command, Error};
use notation::near::nearest;
use stagewright::commands::{FAILED, Paint, finish, tell};

/// Prints help where it was asked for; else says what is wrong with the words of `line`.
pub fn answer(error: &Error, program: &Command, line: &[OsString]) -> ExitCode {
    match error.kind() {
        ErrorKind::DisplayHelp | ErrorKind::DisplayVersion => {
            let text = error.render();
            let text = if Paint::stdout().colours() { text.ansi().to_string() } else { text.to_string() };
            finish(&text, 0)
        }
        ErrorKind::DisplayHelpOnMissingArgumentOrSubcommand => {
            error.render().to_string().lines().for_each(tell);
            ExitCode::from(FAILED)
        }
        _ => {
            tell(&said(error, program, line));
            ExitCode::from(FAILED)
        }
    }
}

/// The message, one line.
fn said(error: &Error, program: &Command, line: &[OsString]) -> String {
    // A word that names no command may still stand in front of one that does, as in `help check`.
    let command = line.iter().skip(1).filter_map(|word| program.find_subcommand(word)).next();
    let name = command.map_or("stagewright".to_string(), |c| format!("stagewright {}", c.get_name()));
    let option = first(error, ContextKind::InvalidArg).map(bare);
    let value = first(error, ContextKind::InvalidValue).unwrap_or_default();
    let what = match (error.kind(), option) {
        (ErrorKind::InvalidSubcommand, _) => {
            let word = first(error, ContextKind::InvalidSubcommand).unwrap_or_default();
            return format!("stagewright: there is no command {word}. {}", meant_command(word, program));
        }
        (ErrorKind::UnknownArgument, Some(word)) => unknown(error, word, command, &name),
        (ErrorKind::InvalidValue, Some(option)) if value.is_empty() => match all(error, ContextKind::ValidValue) {
            // An empty word, which no option and no file is.
            _ if !option.starts_with('-') => format!("{option} is empty: a word is missing there."),
            values if values.is_empty() => format!("{option} wants {} behind it.", value_name(error)),
            values => format!("{option} wants {} behind it.", listed(&values, "or")),
        },
        (ErrorKind::InvalidValue, Some(option)) => {
            let values = all(error, ContextKind::ValidValue);
            let meant = nearest(value, values.iter().copied()).or(first(error, ContextKind::SuggestedValue));
            let meant = meant.map_or(String::new(), |meant| format!(" Did you mean {meant}?"));
            format!("{option} is {}, not {value}.{meant}", listed(&values, "or"))
        }
        (ErrorKind::ValueValidation, Some(option)) => {
            let why = std::error::Error::source(error).map_or("it cannot be read".into(), ToString::to_string);
            format!("{option} cannot be {value}: {why}.")
        }
        (ErrorKind::MissingRequiredArgument, Some(_)) => {
            let missing: Vec<_> = all(error, ContextKind::InvalidArg).into_iter().map(bare).collect();
            format!("a {} is missing, as in: {}", listed(&missing, "and a"), shape(command, &name))
        }
        (ErrorKind::ArgumentConflict, Some(option)) => match first(error, ContextKind::PriorArg).map(bare) {
            Some(prior) if prior != option => format!("{option} and {prior} exclude each other: leave one out."),
            _ => format!("{option} is given twice: leave one out."),
        },
        (ErrorKind::TooManyValues, Some(option)) => format!("{option} takes no {value}."),
        (ErrorKind::InvalidUtf8, _) => "a word is not UTF-8 text.".to_string(),
        // Kinds that this command line has no use for, told as the library tells them.
        _ => error.kind().as_str().unwrap_or("this cannot be read").to_string() + ".",
    };
    format!("{name}: {what}")
}

/// What is said of a word that is no option here, or one too many.
fn unknown(error: &Error, word: &str, command: Option<&Command>, name: &str) -> String {
    if !word.starts_with('-') {
        return format!("{word} is one argument too many, as in: {}", shape(command, name));
    }
    let way_out = match first(error, ContextKind::SuggestedArg).map(bare) {
        Some(meant) => format!("Did you mean {meant}?"),
        None if has_suggestion(error) && !word.starts_with("--") => {
            "If it is no option, write -- in front of it.".to_string()
        }
        None => format!("{name} --help names those that there are."),
    };
    format!("there is no option {word}. {way_out}")
}

/// Whether the library would have the word stand behind `--`.
fn has_suggestion(error: &Error) -> bool {
    matches!(error.get(ContextKind::Suggested), Some(ContextValue::StyledStrs(all)) if !all.is_empty())
}

fn meant_command(word: &str, program: &Command) -> String {
    let names: Vec<&str> = program.get_subcommands().map(Command::get_name).filter(|name| *name != "help").collect();
    match nearest(word, names.iter().copied()) {
        Some(meant) => format!("Did you mean {meant}?"),
        None => {
            format!("The commands are {}; stagewright --help tells what each does.", listed(&names, "and"))
        }
    }
}

/// `stagewright read FILE PHRASE...`
fn shape(command: Option<&Command>, name: &str) -> String {
    let positional = |arg: &Arg| {
        let word = arg.get_value_names().and_then(<[_]>::first).map_or("WORD", |word| word.as_str());
        let more = if arg.get_num_args().is_some_and(|n| n.max_values() > 1) { "..." } else { "" };
        format!(" {word}{more}")
    };
    let words = command.into_iter().flat_map(Command::get_positionals).map(positional);
    words.fold(name.to_string(), |shape, word| shape + &word)
}

/// `text, json or sarif`
fn listed(words: &[&str], joint: &str) -> String {
    match words {
        [most @ .., last] if !most.is_empty() => format!("{} {joint} {last}", most.join(", ")),
        _ => words.concat(),
    }
}

/// `--format <FORMAT>` is `--format`; `<PHRASE>...` is `PHRASE`.
fn bare(argument: &str) -> &str {
    let word = argument.split(' ').next().unwrap_or_default();
    word.trim_end_matches("...").trim_start_matches(['<', '[']).trim_end_matches(['>', ']'])
}

/// What an option's value is called.
fn value_name(error: &Error) -> &str {
    let argument = first(error, ContextKind::InvalidArg).unwrap_or_default();
    argument.split_once(' ').map_or("a value", |(_, value)| bare(value))
}

fn first(error: &Error, kind: ContextKind) -> Option<&str> {
    all(error, kind).into_iter().next()
}

fn all(error: &Error, kind: ContextKind) -> Vec<&str> {
    match error.get(kind) {
        Some(ContextValue::String(word)) => vec![word],
        Some(ContextValue::Strings(words)) => words.iter().map(String::as_str).collect(),
        _ => Vec::new(),
    }
}
