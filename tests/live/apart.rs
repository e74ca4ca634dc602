//! Runs a test in a process of its own: cpal and its libraries look for the sound server in the environment, which
//! must stand before the first thread starts.

use crate::server::{Server, Setup};
use std::{
    env, fs,
    io::Write as _,
    path::{Path, PathBuf},
    process::{Command, Stdio},
    sync::{Mutex, PoisonError},
    thread,
    time::{Duration, Instant},
};

/// Tells the process that it is the one in which the test runs, and where its folder is.
const FOLDER: &str = "TRIMWATCH_LIVE_FOLDER";
/// One test at a time: two would disturb each other's timing.
static ONE_AT_A_TIME: Mutex<()> = Mutex::new(());

/// Defines a test that runs apart, with a server as `setup` says.
macro_rules! live_test {
    ($(#[$meta:meta])* fn $name:ident($server:ident: $setup:expr) $body:block) => {
        $(#[$meta])*
        #[test]
        fn $name() {
            let path = concat!(module_path!(), "::", stringify!($name));
            crate::apart::run(path, &$setup, |$server: &mut crate::server::Server| $body);
        }
    };
}
pub(crate) use live_test;

/// Length of a capture.
pub fn live_seconds() -> f64 {
    env::var("TRIMWATCH_LIVE_SECONDS").map_or(8.0, |text| {
        text.parse().unwrap_or_else(|_| {
            panic!("TRIMWATCH_LIVE_SECONDS is '{text}', not a number of seconds")
        })
    })
}

/// Runs `body` here if this is the process made for it, else makes that process.
pub fn run(path: &str, setup: &Setup, body: impl FnOnce(&mut Server)) {
    if let Some(folder) = env::var_os(FOLDER) {
        let mut server = Server::start(PathBuf::from(folder), setup);
        return body(&mut server);
    }
    if !has_program("pulseaudio") {
        assert!(
            env::var_os("TRIMWATCH_REQUIRE_LIVE").is_none_or(|value| value != "1"),
            "the live tests are required here, but there is no 'pulseaudio': install pulseaudio and pulseaudio-utils"
        );
        // Written past the capture of the test's output, so that it is seen.
        let notice = format!(
            "\nSKIPPED: {path}: install pulseaudio, pulseaudio-utils and libasound2-plugins to run it\n"
        );
        let _unseen = std::io::stderr().write_all(notice.as_bytes());
        return;
    }
    let _turn = ONE_AT_A_TIME.lock().unwrap_or_else(PoisonError::into_inner);
    let folder = tempfile::tempdir().expect("a folder for the server");
    setup.write_configuration(folder.path());
    run_in_child(path, folder.path());
}

fn has_program(name: &str) -> bool {
    env::var_os("PATH")
        .is_some_and(|path| env::split_paths(&path).any(|folder| folder.join(name).is_file()))
}

fn run_in_child(path: &str, folder: &Path) {
    let (_, name) = path.split_once("::").expect("a path within this crate");
    let output_path = folder.join("output");
    let output = fs::File::create(&output_path).expect("the output can be kept");
    let both = output.try_clone().expect("the output can be kept");
    let mut child = Command::new(env::current_exe().expect("this test's program"))
        .args([name, "--exact", "--nocapture", "--test-threads=1"])
        .env(FOLDER, folder)
        .env("HOME", folder.join("home"))
        .env("XDG_RUNTIME_DIR", folder.join("run"))
        .env(
            "PULSE_SERVER",
            format!("unix:{}", folder.join("run/pulse.sock").display()),
        )
        .env("PULSE_CLIENTCONFIG", folder.join("client.conf"))
        .env("ALSA_CONFIG_PATH", folder.join("asound.conf"))
        .env_remove("PULSE_RUNTIME_PATH")
        .env_remove("PULSE_COOKIE")
        .env_remove("PULSE_SINK")
        .env_remove("PULSE_SOURCE")
        .env_remove("DBUS_SESSION_BUS_ADDRESS")
        .stdin(Stdio::null())
        .stdout(output)
        .stderr(both)
        .spawn()
        .expect("the test's own process starts");
    let deadline = Instant::now() + Duration::from_secs_f64(120.0 + 4.0 * live_seconds());
    let status = loop {
        if let Some(status) = child.try_wait().expect("the process can be asked") {
            break Some(status);
        }
        if Instant::now() > deadline {
            child.kill().expect("it can be ended");
            child.wait().expect("it has ended");
            break None;
        }
        thread::sleep(Duration::from_millis(20));
    };
    let said = fs::read_to_string(&output_path).unwrap_or_default();
    println!("{said}");
    let status = status.unwrap_or_else(|| panic!("{name} did not end in time"));
    assert!(
        status.success(),
        "{name} failed in its own process:\n{said}"
    );
    assert!(
        said.contains("1 passed"),
        "{name} was not found in its own process:\n{said}"
    );
}
