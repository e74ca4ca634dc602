//! Dropouts: short losses of level at places of the tape.

use super::{
    plan::{Plan, RandomDropouts, Tracks},
    random::{Chance, Purpose},
    turns::{Travel, sin},
};

/// Each edge takes this part of the dropout's length.
const EDGE: f64 = 0.25;

/// One dropout. Its length is from half depth to half depth (of the amplitude lost).
#[derive(Clone, Copy, Debug)]
struct Dropout {
    centre_s: f64,
    length_s: f64,
    /// Part of the amplitude that is lost at its bottom.
    lost: f64,
    tracks: Tracks,
}

impl Dropout {
    fn new(centre_s: f64, length_ms: f64, depth_db: f64, tracks: Tracks) -> Self {
        Self {
            centre_s,
            length_s: length_ms / 1000.0,
            lost: 1.0 - 10_f64.powf(-depth_db / 20.0),
            tracks,
        }
    }

    fn start_s(&self) -> f64 {
        self.centre_s - 0.5 * self.length_s * (1.0 + EDGE)
    }

    fn end_s(&self) -> f64 {
        self.centre_s + 0.5 * self.length_s * (1.0 + EDGE)
    }

    /// Flat bottom, raised-cosine edges.
    fn gain(&self, place_s: f64) -> f64 {
        let edge_s = EDGE * self.length_s;
        let inside = (0.5 * self.length_s - (place_s - self.centre_s).abs()) / edge_s;
        let depth = 0.5 + 0.5 * sin(0.5 * inside.clamp(-0.5, 0.5));
        1.0 - self.lost * depth
    }
}

/// All dropouts of a deck, as a gain of both tracks by place.
pub(super) struct Dropouts {
    /// Those of the file, the next one last.
    listed: Vec<Dropout>,
    random: Option<(RandomDropouts, Chance)>,
    next_random: Option<Dropout>,
    active: Vec<Dropout>,
    /// Nothing begins before this place.
    next_start_s: f64,
}

impl Dropouts {
    pub(super) fn new(plan: &Plan) -> Self {
        let listed = plan.dropout.iter();
        let mut listed: Vec<_> = listed
            .map(|dropout| {
                let (length, depth) = (dropout.length_ms.get(), dropout.depth_db.get());
                Dropout::new(dropout.at_s.get(), length, depth, dropout.tracks)
            })
            .collect();
        listed.sort_by(|a, b| b.start_s().total_cmp(&a.start_s()));
        let chance = Chance::new(plan.deck.seed, Purpose::Dropouts);
        let random = plan.random_dropouts.clone();
        let mut dropouts = Self {
            listed,
            random: random
                .filter(|random| random.rate_per_minute.get() > 0.0)
                .map(|random| (random, chance)),
            next_random: None,
            active: Vec::new(),
            next_start_s: 0.0,
        };
        dropouts.draw(0.0);
        dropouts.look_ahead();
        dropouts
    }

    /// Gains of the left and right track at a place that never goes back.
    pub(super) fn next(&mut self, place: Travel) -> [f64; 2] {
        let place_s = place.seconds();
        if place_s >= self.next_start_s {
            self.begin(place_s);
        }
        if self.active.is_empty() {
            return [1.0; 2];
        }
        self.active.retain(|dropout| dropout.end_s() > place_s);
        let hits = |side: Tracks, dropout: &&Dropout| {
            dropout.tracks == Tracks::Both || dropout.tracks == side
        };
        [Tracks::Left, Tracks::Right].map(|side| {
            let active = self.active.iter().filter(|dropout| hits(side, dropout));
            active.map(|dropout| dropout.gain(place_s)).product()
        })
    }

    fn begin(&mut self, place_s: f64) {
        let begun = |dropout: &mut Dropout| dropout.start_s() <= place_s;
        while let Some(dropout) = self.listed.pop_if(begun) {
            self.active.push(dropout);
        }
        while let Some(dropout) = self.next_random.take_if(begun) {
            self.active.push(dropout);
            self.draw(dropout.centre_s);
        }
        self.look_ahead();
    }

    /// Draws the next random dropout: the distances of rare independent events are exponential.
    fn draw(&mut self, after_s: f64) {
        if let Some((random, chance)) = &mut self.random {
            let mean_s = 60.0 / random.rate_per_minute.get();
            let distance_s = -mean_s * (1.0 - chance.even()).ln();
            self.next_random = Some(Dropout::new(
                after_s + distance_s,
                random.length_ms.get(),
                random.depth_db.get(),
                random.tracks,
            ));
        }
    }

    fn look_ahead(&mut self) {
        let next = self.listed.last().into_iter().chain(&self.next_random);
        self.next_start_s = next.map(Dropout::start_s).fold(f64::INFINITY, f64::min);
    }
}
