//! The workshop's jobs, and a sheet read back from its files.

use std::{
    fs,
    path::{Path, PathBuf},
    process::Command,
};
use trimwatch::bench::{
    Job,
    sheet::{Paper, Sheet, pdf},
};

/// The invented workshop's job files, in order.
pub fn files() -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data/jobs");
    let mut files: Vec<_> = fs::read_dir(folder)
        .expect("the folder of jobs")
        .map(|entry| entry.expect("an entry").path())
        .filter(|path| path.extension().is_some_and(|ending| ending == "json"))
        .collect();
    files.sort();
    files
}

/// A job of a file.
pub fn job_of(path: &Path) -> Job {
    let text = fs::read_to_string(path).expect("a job file");
    let file: serde_json::Value = serde_json::from_str(&text).expect("JSON");
    assert_eq!(file["schema"], "trimwatch.job/1");
    serde_json::from_value(file["job"].clone()).expect("a job")
}

/// All six.
pub fn jobs() -> Vec<Job> {
    files().iter().map(|path| job_of(path)).collect()
}

/// One to be changed.
pub fn a_job() -> Job {
    jobs().swap_remove(0)
}

/// The text of a sheet's PDF, a page each; `None`, with a word, where poppler is not there.
pub fn pdf_pages(sheet: &Sheet, paper: Paper) -> Option<Vec<String>> {
    let text = poppler(sheet, paper, &["-layout"])?;
    Some(text.split_terminator('\u{c}').map(Into::into).collect())
}

/// A word on a page of a PDF, points.
pub struct Word {
    pub page: usize,
    pub left: f64,
    pub top: f64,
    pub right: f64,
    pub bottom: f64,
    pub text: String,
}

/// Where every word of a sheet's PDF stands.
pub fn pdf_words(sheet: &Sheet, paper: Paper) -> Option<Vec<Word>> {
    let boxes = poppler(sheet, paper, &["-bbox"])?;
    let mut page = 0;
    let mut words = Vec::new();
    for line in boxes.lines().map(str::trim) {
        page += usize::from(line.starts_with("<page "));
        if let Some(word) = line.strip_prefix("<word ") {
            let of = |name: &str| {
                let at = word.find(name).expect("an edge") + name.len() + 2;
                let end = word[at..].find('"').expect("its end") + at;
                word[at..end].parse().expect("a number")
            };
            let text = word.split_once('>').expect("a text").1;
            words.push(Word {
                page,
                left: of("xMin"),
                top: of("yMin"),
                right: of("xMax"),
                bottom: of("yMax"),
                text: text.replace("</word>", ""),
            });
        }
    }
    Some(words)
}

fn poppler(sheet: &Sheet, paper: Paper, how: &[&str]) -> Option<String> {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("sheet.pdf");
    fs::write(&file, pdf(sheet, paper).expect("a PDF")).expect("written");
    let read = Command::new("pdftotext")
        .args(how)
        .arg(&file)
        .arg("-")
        .output();
    let Ok(read) = read else {
        println!("skipped: pdftotext (poppler) is not there");
        return None;
    };
    assert!(
        read.status.success(),
        "{}",
        String::from_utf8_lossy(&read.stderr)
    );
    // Poppler itself writes titles that are not UTF-8 where they hold pictures.
    Some(String::from_utf8_lossy(&read.stdout).into_owned())
}

/// The text of an element of HTML, as a reader sees it.
pub fn unescaped(html: &str) -> String {
    html.replace("&lt;", "<")
        .replace("&gt;", ">")
        .replace("&quot;", "\"")
        .replace("&amp;", "&")
}
