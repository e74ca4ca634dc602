//! A live source and a recording of the same samples give the same readings.

use crate::{
    stage::{TONE_HZ, description, json, tape},
    synth::{Noise, fluttering, stereo, tone},
};
use crossbeam_channel::unbounded;
use std::{sync::Arc, thread, time::Duration};
use trimwatch::{
    readings::{InputState, Readings, SourceDescription},
    source::{FrameSource, RunningSource, SourceError, SourceEvent, StopOnDrop, ring},
    worker::{self, Worker},
};

pub const SAMPLE_RATE_HZ: f64 = 48_000.0;

/// Samples in memory, as a source that is asked for them.
struct InMemory {
    description: SourceDescription,
    samples: Vec<f32>,
    at: usize,
}

impl FrameSource for InMemory {
    fn description(&self) -> &SourceDescription {
        &self.description
    }

    fn read(&mut self, interleaved: &mut [f32]) -> Result<usize, SourceError> {
        let count = interleaved.len().min(self.samples.len() - self.at);
        interleaved[..count].copy_from_slice(&self.samples[self.at..self.at + count]);
        self.at += count;
        Ok(count / usize::from(self.description.channels))
    }
}

/// What a live source delivers, one after the other.
pub enum Delivery<'a> {
    Frames(&'a [f32]),
    Gap(Option<u64>),
}

/// Runs the worker on a source that delivers in odd pieces, as fast as the ring takes them; the readings after its
/// end.
pub fn live(deliveries: &[Delivery<'_>]) -> Arc<Readings> {
    let (mut producer, consumer) = ring::ring(2, 8192);
    let (events_in, events) = unbounded();
    let (stop, _stopped) = StopOnDrop::new();
    let opened = SourceEvent::Opened {
        description: description(SAMPLE_RATE_HZ, 2),
        frames: consumer,
    };
    events_in.send(opened).unwrap();
    let worker = Worker::start(RunningSource { events, stop }, tape(TONE_HZ), || {}).unwrap();
    for delivery in deliveries {
        match delivery {
            Delivery::Gap(lost_frames) => producer.mark_gap(*lost_frames),
            Delivery::Frames(samples) => {
                for piece in samples.chunks(2 * 333) {
                    while producer.room_frames() < piece.len() / 2 {
                        thread::sleep(Duration::from_millis(1));
                    }
                    assert_eq!(producer.push(piece), piece.len() / 2);
                }
            }
        }
    }
    events_in.send(SourceEvent::Ended).unwrap();
    loop {
        let readings = worker
            .readings
            .recv_timeout(Duration::from_secs(20))
            .expect("the worker publishes after the end");
        if readings.source.state == InputState::Ended {
            return readings;
        }
    }
}

#[test]
fn live_and_offline_are_equal_to_the_last_bit() {
    let wave = tone(TONE_HZ * 0.99, 0.4, fluttering([(0.6, 0.1), (6.1, 0.06)]));
    let mut take = stereo(SAMPLE_RATE_HZ, 9.0, wave, |t| wave(t + 1e-5));
    Noise::new(11).add(&mut take, 1e-3);
    let live = live(&[Delivery::Frames(&take)]);
    let mut recording = InMemory {
        description: description(SAMPLE_RATE_HZ, 2),
        samples: take,
        at: 0,
    };
    let offline = worker::measure(&mut recording, tape(TONE_HZ), None).unwrap();
    assert!(offline.flutter.status.is_ok());
    assert_eq!(json(&live), json(&offline));
}
