//! Stands between an editor and a language server and writes down what they say, a message a line, in the order in which it came by.
//!
//! usage: `recorder FILE COMMAND [ARGUMENT…]`. A line is `{"from":"editor","message":…}` or the same from the server. What is passed on is
//! passed on as it came, byte for byte; what has no frame of the protocol is passed on too, and written down as nothing.

use std::fs::{File, OpenOptions};
use std::io::{self, BufRead, BufReader, BufWriter, Read, Write};
use std::process::{Command, ExitCode, Stdio};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread;

fn main() -> ExitCode {
    let mut words = std::env::args_os().skip(1);
    let (Some(file), Some(program)) = (words.next(), words.next()) else {
        eprintln!("usage: recorder FILE COMMAND [ARGUMENT...]");
        return ExitCode::from(2);
    };
    let recorded = || -> io::Result<u8> {
        // An editor that starts its server twice has both written down.
        let file = Arc::new(Mutex::new(OpenOptions::new().create(true).append(true).open(file)?));
        let mut server = Command::new(program).args(words).stdin(Stdio::piped()).stdout(Stdio::piped()).spawn()?;
        let (to_server, from_server) = (server.stdin.take(), server.stdout.take());
        let heard = Arc::clone(&file);
        // When the editor closes its end, the server's input is dropped with the thread's end, and the server leaves.
        thread::spawn(move || to_server.map(|to| pass(io::stdin(), to, "editor", &heard)));
        if let Some(from) = from_server {
            pass(from, io::stdout(), "server", &file)?;
        }
        Ok(server.wait()?.code().and_then(|code| u8::try_from(code).ok()).unwrap_or(1))
    }();
    match recorded {
        Ok(code) => ExitCode::from(code),
        Err(reason) => {
            eprintln!("recorder: {reason}");
            ExitCode::FAILURE
        }
    }
}

/// Passes messages on until there are no more.
fn pass(from: impl Read, to: impl Write, name: &str, file: &Mutex<File>) -> io::Result<()> {
    let mut from = BufReader::new(from);
    let mut to = BufWriter::new(to);
    loop {
        let mut head = Vec::new();
        let mut length = 0;
        loop {
            let start = head.len();
            if from.read_until(b'\n', &mut head)? == 0 {
                to.write_all(&head)?;
                return to.flush();
            }
            let line = String::from_utf8_lossy(&head[start..]).trim().to_ascii_lowercase();
            if line.is_empty() {
                break;
            }
            length = line.strip_prefix("content-length:").map_or(length, |n| n.trim().parse().unwrap_or(0));
        }
        let mut body = vec![0; length];
        from.read_exact(&mut body)?;
        // Written down first: a reader of the file then never misses what the other side has already acted upon.
        write_down(&body, name, file)?;
        to.write_all(&head)?;
        to.write_all(&body)?;
        to.flush()?;
    }
}

/// A message on a line of its own. A line end inside of one stands between its words only, since a text has it as `\n`.
fn write_down(body: &[u8], name: &str, file: &Mutex<File>) -> io::Result<()> {
    let mut line = format!("{{\"from\":\"{name}\",\"message\":").into_bytes();
    line.extend(body.iter().map(|&byte| if byte == b'\n' || byte == b'\r' { b' ' } else { byte }));
    line.extend_from_slice(b"}\n");
    file.lock().unwrap_or_else(PoisonError::into_inner).write_all(&line)
}
