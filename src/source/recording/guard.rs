//! Keeps a panic of the decoding library from taking the program along.
//!
//! Its readers are careful, but a file made to deceive them still reaches an assertion or an overflow in places
//! (found by mutating Ogg headers under correct checksums). Such a file is unreadable, no more.

use std::{
    cell::Cell,
    panic::{self, AssertUnwindSafe},
    sync::Once,
};

thread_local! {
    static GUARDED: Cell<bool> = const { Cell::new(false) };
}

/// Runs `work`; `None` when it panicked, and then nothing is printed either. What `work` was changing must not be
/// used again after that.
pub(super) fn guarded<T>(work: impl FnOnce() -> T) -> Option<T> {
    static SILENCED: Once = Once::new();
    SILENCED.call_once(|| {
        let report = panic::take_hook();
        panic::set_hook(Box::new(move |panic| {
            if !GUARDED.get() {
                report(panic);
            }
        }));
    });
    let outer = GUARDED.replace(true);
    let result = panic::catch_unwind(AssertUnwindSafe(work));
    GUARDED.set(outer);
    result.ok()
}

#[cfg(test)]
mod tests {
    use super::guarded;

    #[test]
    fn a_panic_is_none_and_a_value_itself() {
        assert_eq!(guarded(|| 7), Some(7));
        assert_eq!(
            guarded(|| [1, 2, 3].iter().position(|&n| n == 9).expect("none")),
            None
        );
        assert_eq!(guarded(|| 8), Some(8));
    }
}
