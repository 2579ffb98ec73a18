//! The program `stagewright`.

use std::io::{self, IsTerminal};
use std::net::{Ipv4Addr, TcpListener};
use std::process::ExitCode;

use clap::{Args, CommandFactory, Parser, Subcommand};
use stagewright::commands::{self, FAILED, complain, tell};
use stagewright::serve::{Ended, serve};
use workbench::Workbench;

mod usage;

/// Every keystroke builds and drops trees on several threads. With the system's allocator, the hints of a design of 2,500 lines took
/// half as long again (15.9 ms against 10.4 ms, `latency --keys 60 --stages 208`).
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

/// Live readings for analog signal chains written in the stage notation.
#[derive(Debug, Parser)]
#[command(version, about, long_about = ABOUT, after_long_help = AFTER, max_term_width = 100)]
struct Cli {
    #[command(subcommand)]
    command: Command,
}

const ABOUT: &str = "\
Live readings for analog signal chains written in the stage notation.

A design is a plain text file, NAME.stage. Five lines are a design already:

    stage preamp: in -> out
      in  -- R1 10M -- gnd
      U1a ideal: + in, - fb, out out
      out -- R2 1k -- fb
      fb  -- R3 1k -- C2 22u -- gnd

From the inverting input (fb) through 1 kilohm and 22 microfarad to ground: a path is written as one says it. Stagewright works out \
the exact circuit and puts the figures beside the lines, in your editor while you type, or here.";

const AFTER: &str = "\
Examples:
  stagewright show preamp.stage
          the file with its figures at the lines' ends
  stagewright check designs/
          problems, and whether what each design requires holds; exit 0 clean, 1 problems, 2 could not run
  stagewright read preamp.stage 'gain in -> out at 1 kHz' 'noise of out A-weighted'
          two readings
  stagewright plot preamp.stage 'gain in -> out' -o gain.svg
          a response with its corners, as a picture; without -o in the terminal
  stagewright derive preamp.stage preamp
          the stage worked out by hand, from Kirchhoff's law to its formula
  stagewright draw preamp.stage -o preamp.svg
          the circuit as a picture
  stagewright format designs/
          columns, blanks and blank lines; with --check only shown
  stagewright serve
          what an editor runs: figures at every keystroke";

#[derive(Debug, Subcommand)]
enum Command {
    /// Run the language server, for an editor
    #[command(long_about = SERVE)]
    Serve(Serve),
    /// Print a design with its figures, as an editor shows it
    Show(commands::Show),
    /// Report problems and decide what the designs require
    Check(commands::Check),
    /// Print single readings
    #[command(long_about = READ)]
    Read(commands::Read),
    /// Print the hand working of stages: from Kirchhoff's law to the formula, line by line
    #[command(long_about = DERIVE)]
    Derive(commands::Derive),
    /// Draw curves: gains, phases, impedances, noise, steps, levels
    #[command(long_about = PLOT)]
    Plot(commands::Plot),
    /// Draw the circuit, or one stage of it, as an SVG picture
    #[command(long_about = DRAW)]
    Draw(commands::Draw),
    /// Say what changed between two revisions of a design, and what follows from it
    #[command(long_about = COMPARE)]
    Compare(commands::Compare),
    /// Print the parts list: what to buy, and what packages have to spare
    #[command(long_about = PARTS)]
    Parts(commands::Parts),
    /// Lay designs out: columns, blanks, blank lines
    #[command(long_about = FORMAT)]
    Format(commands::Layout),
    /// Print the manual's page of a word, a quantity or a rule; the contents without one
    Explain(commands::Explain),
}

const DERIVE: &str = "\
Print the hand working of stages, as a person writes it on the board: what is assumed, the circuit redrawn in words, Kirchhoff's current law at \
the nodes that matter, the virtual shorts, the algebra line by line, the result in symbols and in numbers, and the conditions.

Amplifiers are taken as ideal and the file's assumptions are made. Each result is held against the solver before it is shown. A circuit that is \
past a hand derivation gets its poles, its zeros and its constant instead.

Exit 0 done, 1 the design is unfinished, 2 could not run.";

const PLOT: &str = "\
Draw curves, in the terminal or as a picture. A phrase is a reading as under require, drawn over frequency, or one of these:

    gain in -> line                          over its control: both ends and rest
    gain in -> line at 1 kHz against VR1     over the control's travel
    phase in -> line                         on a second axis beside a gain
    impedance of line
    noise density of line                    with the share of what makes it
    step in -> line                          after a step of 1 V
    burst in -> line at 1 kHz                the envelope of a burst of tone
    stage preamp                             the stage's response
    assumption 2, assumption C3              its error, and what it may be
    level diagram                            noise, signal and clipping from stage to stage

Corners are marked, and limits of requirements that speak of what is drawn are hatched on the side that they forbid. Several phrases stand \
in one plot: what has another unit counts on the right edge.

Exit 0 drawn, 1 something is not known or has no curve, 2 could not run.";

const DRAW: &str = "\
Draw the circuit, from the text alone: signal from left to right, a frame a stage, feedback above its amplifier, designators and values beside the \
symbols. The picture is SVG, readable on light and dark ground and in print.

Where things stand hangs on who is joined to whom and on the names, so another value changes its text and nothing else. What is not finished in the \
design is left out, and a line below the picture says so.

Exit 0 done, 1 the design is unfinished, 2 could not run.";

const COMPARE: &str = "\
Say what changed between two revisions of a design, and what follows from it: parts, then every reading, assumption, formula, requirement and rule that \
says something else because of it, old → new, with the cause.

    stagewright compare old.stage new.stage
    stagewright compare --git HEAD~3 preamp.stage

What only has another name or stands in another line has not changed the circuit. As git's driver of differences, set up once:

    git config diff.stage.command 'stagewright compare --driver'
    echo '*.stage diff=stage' >> .gitattributes

Exit 0 nothing changed, 1 something did (with --worse: something got worse), 2 could not run.";

const PARTS: &str = "\
Print the parts list: devices of one kind on one row, with designators, tolerances, ratings and order codes. What is external is not on it, and \
what is unfitted stands at its end. Units of one device (U1a and U1b, VR2a and VR2b) are one; amplifiers that a package has to spare are named.

Exit 0 done, 1 the design is unfinished, 2 could not run.";

const FORMAT: &str = "\
Lay designs out: columns, blanks, blank lines.

Figures and names, comments and texts in quotes stay as they were written, and so does a line that is not finished or has a fault. A design \
is written only where its layout changes, and then all at once or not at all.

Exit 0 done, 1 with --check if anything would change, 2 could not run.";

const SERVE: &str = "\
Run the language server (LSP 3.17), for an editor.

An editor starts it and talks to it over standard input and output: figures beside the lines at every keystroke, messages with ways \
out, hovers and an outline. The language is called stage and its files end in .stage.";

const READ: &str = "\
Print single readings. A phrase is what would stand under require, as one argument:

    gain in -> line at 1 kHz when high
    low corner emf -> line
    input impedance of preamp
    noise of line A-weighted";

#[derive(Debug, Args)]
struct Serve {
    /// Wait for one client on this port of the loopback address instead; 0 takes a free one and says which
    #[arg(long, value_name = "PORT", value_parser = port)]
    socket: Option<u16>,
    /// Talk over standard input and output (as without any option; editors that always say it may)
    #[arg(long, conflicts_with = "socket")]
    stdio: bool,
    /// What goes to the log on standard error
    #[arg(long, value_name = "LEVEL", default_value = "warn", value_parser = ["error", "warn", "info", "debug", "trace"])]
    log: String,
}

/// A port's number.
fn port(text: &str) -> Result<u16, &'static str> {
    text.parse().map_err(|_| "a port is a number from 0 to 65535")
}

fn main() -> ExitCode {
    let line: Vec<_> = std::env::args_os().collect();
    let cli = match Cli::try_parse_from(&line) {
        Ok(cli) => cli,
        Err(error) => return usage::answer(&error, &Cli::command(), &line),
    };
    match cli.command {
        Command::Serve(args) => run_server(&args),
        Command::Show(args) => commands::show(&args),
        Command::Check(args) => commands::check(&args),
        Command::Read(args) => commands::read(&args),
        Command::Derive(args) => commands::derive(&args),
        Command::Compare(args) => commands::compare(&args),
        Command::Parts(args) => commands::parts(&args),
        Command::Plot(args) => commands::plot(&args),
        Command::Draw(args) => commands::draw(&args),
        Command::Format(args) => commands::format(&args),
        Command::Explain(args) => commands::explain(&args),
    }
}

fn run_server(args: &Serve) -> ExitCode {
    if let Ok(level) = args.log.parse::<tracing::Level>() {
        tracing_subscriber::fmt().with_writer(io::stderr).with_ansi(false).with_max_level(level).init();
    }
    if args.socket.is_none() && io::stdin().is_terminal() {
        tell("stagewright serve talks to an editor, not to a person: see stagewright serve --help. Ctrl-D leaves.");
    }
    let bench = Workbench::new();
    let ended = match args.socket {
        Some(port) => on_socket(port, bench),
        None => serve(io::stdin(), stdout(), bench),
    };
    match ended {
        Ok(Ended::Politely) => ExitCode::SUCCESS,
        Ok(Ended::Abruptly) => ExitCode::FAILURE,
        Err(error) => {
            complain(&format!("the server could not start: {error}"));
            ExitCode::from(FAILED)
        }
    }
}

fn on_socket(port: u16, bench: Workbench) -> io::Result<Ended> {
    let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, port))?;
    complain(&format!("waiting for a client on {}", listener.local_addr()?));
    let (stream, _) = listener.accept()?;
    // Small messages are what matters here: none may wait for the next to fill a packet.
    stream.set_nodelay(true)?;
    serve(stream.try_clone()?, stream, bench)
}

/// Standard output without the line buffering that would write each message in two pieces.
#[cfg(unix)]
fn stdout() -> Box<dyn io::Write + Send> {
    use std::os::fd::AsFd;
    match io::stdout().as_fd().try_clone_to_owned() {
        Ok(fd) => Box::new(std::fs::File::from(fd)),
        Err(_) => Box::new(io::stdout()),
    }
}

#[cfg(not(unix))]
fn stdout() -> Box<dyn io::Write + Send> {
    Box::new(io::stdout())
}
