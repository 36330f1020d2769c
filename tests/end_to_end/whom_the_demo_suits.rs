//! Whom the demo's formulas suit, as a table that a clinician can check, and how much there is to read before making them.

use std::fmt::Write as _;

use serde_json::Value;

use crate::demo::{Demo, formulas};

const TABLE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../docs/whom-the-demo-suits.md");
const AUDIENCES: [(&str, &str); 6] = [
    ("pregnant", "pregnancy"),
    ("age:4", "four years"),
    ("allergy:tree-nuts", "nut allergy"),
    ("allergy:bee-products", "bee allergy"),
    ("condition:anticoagulants", "blood thinners"),
    ("condition:epilepsy", "epilepsy"),
];
/// The answers from the gravest on. Each is an answer: none is empty.
const ANSWERS: [&str; 6] =
    ["stop", "not_suitable", "ask_first", "not_known", "with_care", "nothing_known_against"];

/// What is read before one formula is made.
struct Read {
    title: String,
    answers: Vec<String>,
    acknowledged: usize,
    bars: usize,
    words: usize,
    cautions: Vec<String>,
}

fn median(mut of: Vec<usize>) -> usize {
    of.sort_unstable();
    of.get(of.len() / 2).copied().unwrap_or_default()
}

fn table(all: &[Read]) -> String {
    let mut out = String::from(
        "# Whom the demo's formulas suit\n\nMade from the demo clinic by a test, which compares it with what the service \
         answers; `UPDATE_TABLE=1` writes it anew. An answer is what the recorded findings come to. It is no diagnosis: a \
         professional decides.\n\n| formula |",
    );
    for (_, heading) in AUDIENCES {
        let _ = write!(out, " {heading} |");
    }
    out.push_str(" to acknowledge | of them bars | words |\n|---|---|---|---|---|---|---|---|---|---|\n");
    for one in all {
        let answers = one.answers.iter().map(|it| it.replace('_', " ")).collect::<Vec<_>>().join(" | ");
        let _ = writeln!(
            out,
            "| {} | {answers} | {} | {} | {} |",
            one.title, one.acknowledged, one.bars, one.words
        );
    }
    let of = |count: fn(&Read) -> usize| median(all.iter().map(count).collect());
    let _ = write!(
        out,
        "\nIn the middle {} to acknowledge, of them {} bars, {} words.\n\n## More than nine to acknowledge\n",
        of(|one| one.acknowledged),
        of(|one| one.bars),
        of(|one| one.words)
    );
    for one in all.iter().filter(|one| one.acknowledged > 9) {
        let _ = write!(out, "\n{}:\n\n", one.title);
        for caution in &one.cautions {
            let _ = writeln!(out, "- {caution}");
        }
    }
    out
}

async fn read(demo: &Demo) -> Vec<Read> {
    let caller = demo.person("ilse.brandt");
    let mut all = Vec::new();
    for formula in formulas(caller).await {
        let approved = formula["revisions"].as_array().unwrap().iter().find(|it| it["state"] == "approved");
        let Some(revision) = approved.map(|it| it["id"].as_str().unwrap()) else { continue };
        let set = caller.get(&format!("/v1/revisions/{revision}/cautions")).await.expect(200).json;
        let binds = |it: &&Value| it["level"] != "note";
        let binding: Vec<&Value> = set["cautions"].as_array().unwrap().iter().filter(binds).collect();
        let mut answers = Vec::new();
        for (audience, _) in AUDIENCES {
            let path = format!("/v1/revisions/{revision}/suitability?audience={audience}");
            let answer = caller.get(&path).await.expect(200).json;
            let word = answer["answer"].as_str().unwrap().to_owned();
            assert!(ANSWERS.contains(&word.as_str()), "{answer}");
            let (missing, looked_at) = (&answer["missing"], answer["looked_at"].as_array().unwrap());
            assert!(!looked_at.is_empty(), "an answer says what was looked at: {answer}");
            assert!(word != "nothing_known_against" || missing.is_null(), "{answer}");
            assert!(word != "not_known" || !missing.is_null(), "{answer}");
            answers.push(word);
        }
        let text = |it: &Value| it["text"].as_str().unwrap().to_owned();
        let told = |it: &&Value| format!("{} ({})", text(it), it["origins"][0].as_str().unwrap());
        all.push(Read {
            title: formula["title"].as_str().unwrap().to_owned(),
            answers,
            acknowledged: binding.len(),
            bars: binding.iter().filter(|it| it["level"] == "contraindication").count(),
            words: binding.iter().map(|it| text(it).split_whitespace().count()).sum(),
            cautions: binding.iter().map(told).collect(),
        });
    }
    all.sort_by(|a, b| a.title.cmp(&b.title));
    all
}

#[tokio::test(flavor = "multi_thread")]
async fn the_table_says_what_the_service_answers() {
    let demo = Demo::load().await;
    let all = read(&demo).await;
    assert!(all.len() >= 20, "{}", all.len());
    let made = table(&all);
    if std::env::var_os("UPDATE_TABLE").is_some() {
        std::fs::write(TABLE, &made).unwrap();
    }
    let kept = std::fs::read_to_string(TABLE).unwrap_or_default();
    assert_eq!(kept, made, "UPDATE_TABLE=1 writes docs/whom-the-demo-suits.md anew");
    // No two texts of one set say the same to the same people.
    for one in &all {
        let mut texts: Vec<&str> =
            one.cautions.iter().map(|it| it.split(" (").next().unwrap_or_default()).collect();
        texts.sort_unstable();
        let before = texts.len();
        texts.dedup();
        assert_eq!(texts.len(), before, "{}: {texts:?}", one.title);
    }
    demo.stop().await;
}
