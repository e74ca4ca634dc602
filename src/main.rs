//! temporary
use std::io::Read;
fn main() {
    let path = std::env::args().nth(1).unwrap();
    let tone: Option<f64> = std::env::args().nth(2).and_then(|s| s.parse().ok());
    let mut r = hound::WavReader::open(&path).unwrap();
    let spec = r.spec();
    let s: Vec<f32> = if spec.sample_format == hound::SampleFormat::Float {
        r.samples::<f32>().map(|x| x.unwrap()).collect()
    } else {
        let k = 1.0 / (1u64 << (spec.bits_per_sample - 1)) as f32;
        r.samples::<i32>().map(|x| x.unwrap() as f32 * k).collect()
    };
    let mut setup = trimwatch::meters::MeterSetup::new().unwrap();
    setup.tone_hz = tone;
    let t = std::time::Instant::now();
    let mut bank =
        trimwatch::meters::MeterBank::new(spec.sample_rate as f64, spec.channels as usize, &setup);
    for c in s.chunks(1024 * spec.channels as usize) {
        bank.process(c);
    }
    let src = trimwatch::readings::SourceReading::new(trimwatch::readings::SourceDescription {
        kind: trimwatch::readings::SourceKind::Recording,
        name: path.clone(),
        host: None,
        sample_format: "x".into(),
        sample_rate_hz: spec.sample_rate,
        channels: spec.channels,
        buffer_frames: None,
    });
    let out = bank.final_readings(src);
    eprintln!(
        "{} x realtime",
        s.len() as f64 / spec.channels as f64 / spec.sample_rate as f64 / t.elapsed().as_secs_f64()
    );
    println!("{}", serde_json::to_string_pretty(&out).unwrap());
    let _ = std::io::stdin().take(0);
}
