use super::*;
use crate::{
    readings::{SourceDescription, SourceKind},
    source::{SourceEvent, ring::ring},
};
use choosing::StreamPlan;
use std::sync::{
    Mutex,
    atomic::{AtomicBool, Ordering},
};

/// Two inputs, of which the first may be unplugged, and a default that may change.
#[derive(Default)]
struct FakeHosts {
    first_unplugged: AtomicBool,
    default_is_second: AtomicBool,
    started: Mutex<Vec<StreamPlan>>,
    devices: Mutex<Vec<CaptureCallback>>,
}

const IDS: [&str; 2] = ["fake:first", "fake:second"];

fn name(id: &str) -> InputName {
    InputName {
        id: id.into(),
        host: "Fake".into(),
        name: format!("Input {}", &id[5..]),
        detail: String::new(),
    }
}

impl SoundHosts for FakeHosts {
    fn inputs(&self) -> (Vec<InputName>, Vec<String>) {
        (IDS.map(name).to_vec(), vec!["Other does not answer".into()])
    }

    fn default_input(&self) -> Option<InputName> {
        Some(name(
            IDS[usize::from(self.default_is_second.load(Ordering::SeqCst))],
        ))
    }

    fn inspect(&self, name: &InputName) -> Result<InputDevice, SourceError> {
        if name.id == IDS[0] && self.first_unplugged.load(Ordering::SeqCst) {
            return Err(SourceError("Input first is not connected".into()));
        }
        Ok(InputDevice {
            name: name.clone(),
            is_default: false,
            native: None,
            offered: vec![OfferedFormat {
                channels: 2,
                sample_format: SampleFormat::I16,
                min_rate_hz: 48_000,
                max_rate_hz: 48_000,
            }],
            trouble: None,
        })
    }

    fn start(&self, plan: &StreamPlan) -> Result<OpenStream, SourceError> {
        let (producer, frames) = ring(2, 48_000);
        let health = Arc::new(StreamHealth::default());
        let mut device = CaptureCallback::new(producer, 2, &plan.picks, health.clone())?;
        device.take(&[1_i16; 960]);
        self.devices.lock().expect("not poisoned").push(device);
        self.started
            .lock()
            .expect("not poisoned")
            .push(plan.clone());
        Ok(OpenStream {
            description: SourceDescription {
                kind: SourceKind::SoundCard,
                name: plan.name.name.clone(),
                host: Some(plan.name.host.clone()),
                sample_format: plan.sample_format.words().into(),
                sample_rate_hz: plan.sample_rate_hz,
                channels: 2,
                buffer_frames: None,
            },
            frames,
            health,
            handle: Box::new(()),
        })
    }
}

fn next_event(source: &RunningSource) -> SourceEvent {
    source
        .events
        .recv_timeout(Duration::from_secs(20))
        .expect("an event in time")
}

#[test]
fn the_default_is_the_same_input_after_a_loss_whatever_the_default_is_then() {
    let hosts = Arc::new(FakeHosts::default());
    let source = open_with(hosts.clone(), &InputChoice::default()).expect("opens");
    assert!(matches!(next_event(&source), SourceEvent::Opened { .. }));

    hosts.first_unplugged.store(true, Ordering::SeqCst);
    hosts.default_is_second.store(true, Ordering::SeqCst);
    hosts.devices.lock().expect("not poisoned").clear();
    let SourceEvent::Lost(text) = next_event(&source) else {
        panic!("not lost");
    };
    assert!(text.starts_with("waiting for Input first ("), "{text}");
    assert!(
        matches!(next_event(&source), SourceEvent::Lost(text) if text.ends_with("(it is not connected)"))
    );

    hosts.first_unplugged.store(false, Ordering::SeqCst);
    let SourceEvent::Opened { description, .. } = next_event(&source) else {
        panic!("not opened again");
    };
    assert_eq!(description.name, "Input first");
    let started = hosts.started.lock().expect("not poisoned");
    assert!(
        started.iter().all(|plan| plan.name.id == IDS[0]),
        "{started:?}"
    );
}

#[test]
fn dropping_the_source_lets_go_of_the_device() {
    let hosts = Arc::new(FakeHosts::default());
    let source = open_with(hosts.clone(), &InputChoice::default()).expect("opens");
    assert!(matches!(next_event(&source), SourceEvent::Opened { .. }));
    let RunningSource { events, stop } = source;
    drop(stop);
    // The supervisor's end of the channel goes with its thread.
    let end = std::iter::from_fn(|| events.recv_timeout(Duration::from_secs(20)).ok()).count();
    assert_eq!(end, 0);
    assert_eq!(
        events.recv_timeout(Duration::from_secs(20)).err(),
        Some(crossbeam_channel::RecvTimeoutError::Disconnected)
    );
}

#[test]
fn the_first_opening_fails_with_one_line_that_also_names_what_could_not_be_asked() {
    let hosts = Arc::new(FakeHosts::default());
    let choice = |input: &str| InputChoice {
        input: Some(input.into()),
        ..InputChoice::default()
    };
    let refused = |input: &str| {
        open_with(hosts.clone(), &choice(input))
            .map(drop)
            .expect_err("refused")
            .0
    };
    let error = refused("third");
    assert!(
        error.contains("'third'") && error.contains(IDS[1]) && error.contains("Other does not"),
        "{error}"
    );
    assert!(refused("input").contains("fits 2 inputs"));
    hosts.first_unplugged.store(true, Ordering::SeqCst);
    assert_eq!(refused("first"), "Input first is not connected");
}

#[test]
fn the_list_marks_the_default_and_leaves_out_what_is_no_input() {
    let hosts = Arc::new(FakeHosts::default());
    hosts.default_is_second.store(true, Ordering::SeqCst);
    let as_dyn: Arc<dyn SoundHosts> = hosts.clone();
    let list_now = || {
        let list = list(&as_dyn);
        let marks: Vec<_> = list
            .inputs
            .iter()
            .map(|input| (input.name.id.clone(), input.is_default))
            .collect();
        (marks, list.notes.len())
    };
    assert_eq!(
        list_now(),
        (vec![(IDS[0].into(), false), (IDS[1].into(), true)], 1)
    );
    hosts.first_unplugged.store(true, Ordering::SeqCst);
    assert_eq!(list_now(), (vec![(IDS[1].into(), true)], 1));
}
