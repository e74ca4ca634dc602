//! Runs a piece of code in a child process under a guard, and tells how the child ended.

use assert_no_alloc::assert_no_alloc;
use std::io::Read as _;
use std::os::fd::{AsRawFd as _, FromRawFd as _, OwnedFd};

/// What is forbidden in the child.
#[derive(Clone, Copy, Debug)]
pub enum Guard {
    /// Allocating and releasing memory.
    Allocator,
    /// Every system call but the verdict's.
    SystemCalls,
}

/// How the child ended.
#[derive(Debug, PartialEq, Eq)]
pub enum End {
    /// It did its work and found it right.
    Succeeded,
    /// It did its work and found it wrong.
    WrongVerdict,
    /// A signal ended it: `SIGABRT` from the allocator, `SIGSYS` from the filter, `SIGALRM` if it hung.
    KilledBy(i32),
    /// It ended in another way.
    Odd(i32),
}

/// A child that is not done by then hangs.
const SECONDS: u32 = 60;

/// Forks, and runs `work` in the child under the guard. `work` returns its verdict.
pub fn run_guarded(guard: Guard, work: impl FnOnce() -> bool) -> End {
    let (mut verdict, verdict_in) = pipe();
    // SAFETY: the child, a copy of this thread alone, does not touch what other threads may have locked: it runs
    // `work`, which is here to show that it needs neither the allocator nor the system, and exits without unwinding.
    let child = unsafe { libc::fork() };
    assert!(child >= 0, "fork: {}", std::io::Error::last_os_error());
    if child == 0 {
        // SAFETY: a plain system call.
        unsafe { libc::alarm(SECONDS) };
        let right = match guard {
            Guard::Allocator => assert_no_alloc(work),
            Guard::SystemCalls => {
                allow_only_the_verdict(verdict_in.as_raw_fd());
                work()
            }
        };
        exit_with(verdict_in.as_raw_fd(), right);
    }
    drop(verdict_in);
    let mut said = Vec::new();
    verdict
        .read_to_end(&mut said)
        .expect("the verdict can be read");
    let mut status = 0;
    // SAFETY: our own child, waited for once.
    let waited = unsafe { libc::waitpid(child, &raw mut status, 0) };
    assert_eq!(waited, child);
    if libc::WIFSIGNALED(status) {
        return End::KilledBy(libc::WTERMSIG(status));
    }
    match (libc::WEXITSTATUS(status), &said[..]) {
        (0, [1]) => End::Succeeded,
        (0, [0]) => End::WrongVerdict,
        (code, _) => End::Odd(code),
    }
}

fn pipe() -> (std::fs::File, OwnedFd) {
    let mut ends = [0; 2];
    // SAFETY: the array has room for the two descriptors, which are ours from then on.
    unsafe {
        assert_eq!(libc::pipe2(ends.as_mut_ptr(), libc::O_CLOEXEC), 0);
        (
            std::fs::File::from_raw_fd(ends[0]),
            OwnedFd::from_raw_fd(ends[1]),
        )
    }
}

/// Ends the child by the two calls that the filter allows; `libc::_exit` would use another one.
fn exit_with(verdict_fd: i32, right: bool) -> ! {
    let byte = u8::from(right);
    // SAFETY: the byte lives through the call; the child has one thread, so ending the thread ends it.
    unsafe {
        libc::syscall(libc::SYS_write, verdict_fd, &raw const byte, 1_usize);
        libc::syscall(libc::SYS_exit, 0);
    }
    unreachable!("the child has exited");
}

/// From here on the kernel kills this process at any call but a write to `verdict_fd` and the exit. (The kernel's
/// strict mode would do, but it lets a message on the terminal pass.)
fn allow_only_the_verdict(verdict_fd: i32) {
    // Offsets in `struct seccomp_data`; the lower half of the first argument comes first on little-endian machines.
    const NUMBER: u32 = 0;
    const FIRST_ARGUMENT: u32 = if cfg!(target_endian = "little") {
        16
    } else {
        20
    };
    let load = |offset| statement(libc::BPF_LD | libc::BPF_W | libc::BPF_ABS, offset, 0, 0);
    let skip_unless = |value: u32, skipped: u8| {
        statement(
            libc::BPF_JMP | libc::BPF_JEQ | libc::BPF_K,
            value,
            0,
            skipped,
        )
    };
    let answer = |action| statement(libc::BPF_RET | libc::BPF_K, action, 0, 0);
    let mut filter = [
        load(NUMBER),
        skip_unless(libc::SYS_exit as u32, 1),
        answer(libc::SECCOMP_RET_ALLOW),
        skip_unless(libc::SYS_write as u32, 3),
        load(FIRST_ARGUMENT),
        skip_unless(verdict_fd as u32, 1),
        answer(libc::SECCOMP_RET_ALLOW),
        answer(libc::SECCOMP_RET_KILL_PROCESS),
    ];
    let program = libc::sock_fprog {
        len: filter.len() as u16,
        filter: filter.as_mut_ptr(),
    };
    // SAFETY: the program lives through the calls, and the kernel copies it.
    let refused = unsafe {
        libc::prctl(libc::PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0) != 0
            || libc::prctl(
                libc::PR_SET_SECCOMP,
                libc::SECCOMP_MODE_FILTER,
                &raw const program,
            ) != 0
    };
    if refused {
        // Without the filter the check would check nothing.
        std::process::abort();
    }
}

fn statement(code: u32, k: u32, jt: u8, jf: u8) -> libc::sock_filter {
    libc::sock_filter {
        code: code as u16,
        jt,
        jf,
        k,
    }
}
