//! Looks after the client's process: a server whose client died without a word must not outlive it.

use std::thread;
use std::time::Duration;

use super::transport::Closer;

/// How often it looks. The end of the input is noticed at once; this is for a client whose pipe somebody else keeps open.
const EVERY: Duration = Duration::from_secs(2);

/// Ends the session when the client's process is gone.
pub struct Watch {
    closer: Closer,
}

impl Watch {
    /// Will end what `closer` closes.
    pub fn new(closer: Closer) -> Self {
        Self { closer }
    }

    /// Watches over a process.
    pub fn over(&self, process: u32) {
        let closer = self.closer.clone();
        let watch = move || {
            while !closer.is_closed() {
                if !alive(process) {
                    tracing::warn!(process, "the client's process is gone");
                    return closer.close();
                }
                thread::sleep(EVERY);
            }
        };
        if let Err(error) = thread::Builder::new().name("watch".into()).spawn(watch) {
            tracing::warn!("nobody watches over the client's process: {error}");
        }
    }
}

/// Whether the process lives. One that belongs to somebody else does.
#[cfg(unix)]
fn alive(process: u32) -> bool {
    let Some(process) = i32::try_from(process).ok().and_then(rustix::process::Pid::from_raw) else {
        return true;
    };
    rustix::process::test_kill_process(process) != Err(rustix::io::Errno::SRCH)
}

/// Elsewhere the end of the input has to do.
#[cfg(not(unix))]
fn alive(_: u32) -> bool {
    true
}
