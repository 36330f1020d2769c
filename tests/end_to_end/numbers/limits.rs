//! What was not judged is not within: each limit question is answered as within, exceeded, unknown or not covered.

use serde_json::Value;
use stillroom_tests::TeachingClinic;

use super::{evaluated, formula};

const SKIN: &str = "on intact skin, leave-on";

fn on<'a>(evaluation: &'a Value, subject: &str) -> Vec<&'a Value> {
    let limits = evaluation["limits"].as_array().unwrap();
    limits.iter().filter(|limit| limit["subject"] == subject).collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn no_limit_is_no_pass() {
    let clinic = TeachingClinic::start().await;
    let of = async |regime: &str, lines: &[(&str, &str)]| {
        evaluated(&clinic.ilse, &formula("salve", SKIN, regime, lines)).await
    };
    let plain = of("cosmetic", &[("olive oil", "80 g"), ("yellow beeswax", "20 g")]).await;
    assert_eq!((&plain["limits"], &plain["limits_outcome"]), (&serde_json::json!([]), &"not covered".into()));

    let food = of("food", &[("olive oil", "99 g"), ("lavender oil", "1 g")]).await;
    let lavender = on(&food, "lavender oil");
    assert_eq!(lavender.len(), 1, "{food}");
    assert_eq!(lavender[0]["outcome"], "not covered");
    assert_eq!(lavender[0]["bound"], "no rule is recorded for this");
    assert!(lavender[0]["source"]["text"].as_str().unwrap().ends_with("as food"), "{}", lavender[0]);
    assert_eq!(food["limits_outcome"], "not covered");
    clinic.stop().await;
}

/// Lemon, bergamot and grapefruit peel are recorded with furocoumarins. Of orange peel nothing is recorded, which is not
/// none; a cream without any citrus is not asked.
#[tokio::test(flavor = "multi_thread")]
async fn a_citrus_oil_of_which_no_furocoumarins_are_recorded_makes_their_sum_unknown() {
    let clinic = TeachingClinic::start().await;
    let outcomes = async |oil: &str| {
        let lines = [("olive oil", "99.9 g"), (oil, "0.1 g")];
        let evaluation = evaluated(&clinic.ilse, &formula("salve", SKIN, "cosmetic", &lines)).await;
        let found = on(&evaluation, "furocoumarins together");
        found.iter().map(|limit| limit["outcome"].as_str().unwrap().to_owned()).collect::<Vec<_>>()
    };
    assert_eq!(outcomes("sweet orange oil").await, ["unknown"]);
    assert_eq!(outcomes("bergamot oil").await, ["exceeded"]);
    assert!(outcomes("lavender oil").await.is_empty());
    clinic.stop().await;
}
