//! A private PulseAudio daemon.

use std::{
    fs,
    os::unix::{fs::PermissionsExt as _, process::CommandExt as _},
    path::{Path, PathBuf},
    process::{Child, Command, Stdio},
    thread,
    time::{Duration, Instant},
};

/// A null sink; its monitor is the input that is captured.
#[derive(Clone, Copy, Debug)]
pub struct Sink {
    pub name: &'static str,
    pub rate_hz: u32,
    /// The server's name for the sample format.
    pub format: &'static str,
    /// Positions, separated by commas.
    pub positions: &'static str,
}

impl Sink {
    /// A stereo sink of 32-bit floats.
    pub const fn stereo(name: &'static str, rate_hz: u32) -> Self {
        Self {
            name,
            rate_hz,
            format: "float32le",
            positions: "front-left,front-right",
        }
    }

    pub const fn named(self, name: &'static str) -> Self {
        Self { name, ..self }
    }

    pub const fn with_format(self, format: &'static str) -> Self {
        Self { format, ..self }
    }

    pub const fn with_positions(self, positions: &'static str) -> Self {
        Self { positions, ..self }
    }

    fn module_arguments(&self) -> [String; 6] {
        let channels = self.positions.split(',').count();
        [
            "module-null-sink".into(),
            format!("sink_name={}", self.name),
            format!("rate={}", self.rate_hz),
            format!("channels={channels}"),
            format!("channel_map={}", self.positions),
            format!("format={}", self.format),
        ]
    }
}

/// What the server is to have. The first sink is the server's default.
#[derive(Clone, Debug)]
pub struct Setup {
    pub sinks: &'static [Sink],
    /// Sinks that come later and are known to ALSA from the start.
    pub alsa_only: &'static [Sink],
    /// Whether clients may use shared memory, as they do on users' machines.
    pub shared_memory: bool,
}

impl Setup {
    pub const fn new(sinks: &'static [Sink]) -> Self {
        Self {
            sinks,
            alsa_only: &[],
            shared_memory: false,
        }
    }

    /// Writes what clients and the ALSA plugin read. Each sink's monitor is also the ALSA device of the sink's name.
    pub fn write_configuration(&self, folder: &Path) {
        for sub in ["run", "home"] {
            let path = folder.join(sub);
            fs::create_dir(&path).expect("a folder for the server");
            fs::set_permissions(&path, fs::Permissions::from_mode(0o700))
                .expect("a private folder");
        }
        let shared_memory = if self.shared_memory { "yes" } else { "no" };
        let client = format!("autospawn = no\nenable-shm = {shared_memory}\n");
        fs::write(folder.join("client.conf"), client).expect("the clients' configuration");
        let mut alsa = "</usr/share/alsa/alsa.conf>\n".to_owned();
        for sink in self.sinks.iter().chain(self.alsa_only) {
            let name = sink.name;
            alsa += &format!(
                "pcm.{name} {{ type pulse device \"{name}.monitor\" \
                 hint {{ show on description \"Bench {name} through ALSA\" }} }}\n"
            );
        }
        fs::write(folder.join("asound.conf"), alsa).expect("ALSA's configuration");
    }
}

/// A running daemon; ends with the value.
pub struct Server {
    folder: PathBuf,
    setup: Setup,
    daemon: Option<Child>,
}

impl Server {
    pub fn start(folder: PathBuf, setup: &Setup) -> Self {
        let mut server = Self {
            folder,
            setup: setup.clone(),
            daemon: None,
        };
        server.start_again();
        server
    }

    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// Starts the daemon and waits until it answers.
    pub fn start_again(&mut self) {
        assert!(self.daemon.is_none(), "the daemon runs");
        let socket = self.folder.join("run/pulse.sock");
        let mut command = Command::new("pulseaudio");
        command
            .args([
                "-n",
                "--daemonize=no",
                "--exit-idle-time=-1",
                "--disallow-exit",
                "--use-pid-file=no",
            ])
            .args(["--log-target=stderr", "--log-level=error"])
            .arg("-L")
            .arg(format!(
                "module-native-protocol-unix socket={} auth-anonymous=1",
                socket.display()
            ))
            .stdin(Stdio::null());
        for sink in self.setup.sinks {
            command.arg("-L").arg(sink.module_arguments().join(" "));
        }
        die_with_parent(&mut command);
        self.daemon = Some(command.spawn().expect("the daemon starts"));
        let deadline = Instant::now() + Duration::from_secs(20);
        while self.control(&["info"]).is_none() {
            assert!(Instant::now() < deadline, "the daemon does not answer");
            thread::sleep(Duration::from_millis(50));
        }
    }

    /// Ends the daemon without a chance to say goodbye.
    pub fn kill(&mut self) {
        self.end(libc::SIGKILL);
    }

    /// Ends the daemon in order.
    pub fn stop(&mut self) {
        self.end(libc::SIGTERM);
    }

    /// Lets the daemon hang.
    pub fn freeze(&self) {
        self.signal(libc::SIGSTOP);
    }

    /// Lets a hanging daemon go on.
    pub fn thaw(&self) {
        self.signal(libc::SIGCONT);
    }

    fn end(&mut self, signal: i32) {
        self.signal(signal);
        let mut daemon = self.daemon.take().expect("the daemon runs");
        daemon.wait().expect("the daemon has ended");
    }

    fn signal(&self, signal: i32) {
        let daemon = self.daemon.as_ref().expect("the daemon runs");
        let id = libc::pid_t::try_from(daemon.id()).expect("a process id");
        // SAFETY: a plain system call on our own child, which has not been waited for.
        assert_eq!(unsafe { libc::kill(id, signal) }, 0);
    }

    /// Adds a sink; returns what `unload` takes.
    pub fn load(&self, sink: &Sink) -> String {
        let arguments = sink.module_arguments();
        let mut words = vec!["load-module"];
        words.extend(arguments.iter().map(String::as_str));
        self.control(&words)
            .expect("the sink is added")
            .trim()
            .to_owned()
    }

    /// Takes a sink away, as unplugging does with a device.
    pub fn unload(&self, module: &str) {
        self.control(&["unload-module", module])
            .expect("the sink goes");
    }

    /// The server's answer, if it gives one.
    pub fn control(&self, words: &[&str]) -> Option<String> {
        let output = Command::new("pactl")
            .args(words)
            .stdin(Stdio::null())
            .output();
        let output = output.expect("pactl (of pulseaudio-utils) runs");
        output
            .status
            .success()
            .then(|| String::from_utf8_lossy(&output.stdout).into_owned())
    }

    /// Plays a file into a sink; the player ends when the server has played it.
    pub fn play(&self, sink: &Sink, file: &Path) -> Child {
        let mut command = Command::new("paplay");
        command
            .arg(format!("--device={}", sink.name))
            .arg(format!("--channel-map={}", sink.positions))
            .arg(file)
            .stdin(Stdio::null());
        die_with_parent(&mut command);
        command.spawn().expect("paplay (of pulseaudio-utils) runs")
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        if let Some(mut daemon) = self.daemon.take() {
            let _gone = daemon.kill();
            let _gone = daemon.wait();
        }
    }
}

/// A test that crashes leaves nothing behind.
fn die_with_parent(command: &mut Command) {
    // SAFETY: between fork and exec there is one plain system call.
    unsafe {
        command.pre_exec(|| {
            if libc::prctl(libc::PR_SET_PDEATHSIG, libc::SIGKILL) == 0 {
                Ok(())
            } else {
                Err(std::io::Error::last_os_error())
            }
        });
    }
}
