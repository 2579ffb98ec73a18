//! What comes from the client: read by a thread of its own as fast as it comes, so that a burst is drained before anything is computed.

use std::io::{self, Read};
use std::pin::Pin;
use std::task::{Context, Poll, ready};
use std::thread;

use tokio::io::{AsyncRead, ReadBuf};
use tokio::sync::mpsc::{UnboundedReceiver, UnboundedSender, unbounded_channel};

/// The bytes that came, for the framework to read.
pub struct Inbox {
    chunks: UnboundedReceiver<Option<Vec<u8>>>,
    rest: Vec<u8>,
    read: usize,
    ended: bool,
}

/// Ends an [`Inbox`] from outside, as when the client's process is gone.
#[derive(Clone)]
pub struct Closer(UnboundedSender<Option<Vec<u8>>>);

impl Closer {
    /// Ends it.
    pub fn close(&self) {
        let _ = self.0.send(None);
    }
    /// Whether nobody reads it any more.
    pub fn is_closed(&self) -> bool {
        self.0.is_closed()
    }
}

impl Inbox {
    /// Starts the thread that reads.
    pub fn start(mut input: impl Read + Send + 'static) -> (Self, Closer) {
        let (queue, chunks) = unbounded_channel();
        let closer = Closer(queue.clone());
        thread::Builder::new()
            .name("reader".into())
            .spawn(move || {
                let mut buffer = vec![0; 64 << 10];
                loop {
                    match input.read(&mut buffer) {
                        Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
                        Ok(0) | Err(_) => break,
                        Ok(n) => {
                            if queue.send(Some(buffer[..n].to_vec())).is_err() {
                                return;
                            }
                        }
                    }
                }
                let _ = queue.send(None);
            })
            .expect("the system gives the server its threads");
        let inbox = Self { chunks, rest: Vec::new(), read: 0, ended: false };
        (inbox, closer)
    }
}

impl AsyncRead for Inbox {
    fn poll_read(mut self: Pin<&mut Self>, cx: &mut Context<'_>, out: &mut ReadBuf<'_>) -> Poll<io::Result<()>> {
        while self.read == self.rest.len() {
            if self.ended {
                return Poll::Ready(Ok(()));
            }
            match ready!(self.chunks.poll_recv(cx)).flatten() {
                Some(chunk) => (self.rest, self.read) = (chunk, 0),
                None => self.ended = true,
            }
        }
        let n = out.remaining().min(self.rest.len() - self.read);
        out.put_slice(&self.rest[self.read..self.read + n]);
        self.read += n;
        Poll::Ready(Ok(()))
    }
}
