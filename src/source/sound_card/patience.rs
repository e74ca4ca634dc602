//! Work that may hang in a driver or a sound server goes on a thread of its own, and is waited for only so long.

use crossbeam_channel::{Receiver, RecvTimeoutError, bounded};
use std::{thread, time::Duration};

/// Why there is no answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum NoAnswer {
    /// It takes too long. The thread stays behind and ends when the call returns, if ever.
    TooLate,
    /// The thread could not be started, or what it called has panicked.
    Failed,
}

/// Starts `work` on a detached thread named `name`; its result can be read from the channel. A channel that is cut
/// off without a result means [`NoAnswer::Failed`].
pub(crate) fn start<T: Send + 'static>(
    name: &str,
    work: impl FnOnce() -> T + Send + 'static,
) -> Receiver<T> {
    let (answer, result) = bounded(1);
    // When no thread can be started, `answer` is dropped with the closure and the channel is cut off.
    let _detached = thread::Builder::new().name(name.into()).spawn(move || {
        // Nobody may be waiting any more; then the result ends here.
        let _unwanted = answer.send(work());
    });
    result
}

/// As [`start`], and waits for the result.
pub(crate) fn with_patience<T: Send + 'static>(
    name: &str,
    limit: Duration,
    work: impl FnOnce() -> T + Send + 'static,
) -> Result<T, NoAnswer> {
    start(name, work)
        .recv_timeout(limit)
        .map_err(|error| match error {
            RecvTimeoutError::Timeout => NoAnswer::TooLate,
            RecvTimeoutError::Disconnected => NoAnswer::Failed,
        })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn waits_for_an_answer_but_not_for_ever() {
        let answer = with_patience("quick", Duration::from_secs(10), || {
            thread::current().name().map(str::to_owned)
        });
        assert_eq!(answer, Ok(Some("quick".to_owned())));
        let (never_sent, never) = bounded::<()>(1);
        let hung = with_patience("hung", Duration::from_millis(20), move || never.recv());
        assert_eq!(hung, Err(NoAnswer::TooLate));
        drop(never_sent);
        let panicked = with_patience("panics", Duration::from_secs(10), || {
            std::panic::resume_unwind(Box::new("no message"))
        });
        assert_eq!(panicked, Err::<(), _>(NoAnswer::Failed));
    }
}
