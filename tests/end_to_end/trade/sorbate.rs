//! Potassium sorbate near the limit of sorbic acid: what whoever makes the lotion is told. The verdicts themselves are
//! held in `judged`.

use serde_json::{Value, json};
use stillroom_tests::TeachingClinic;

use super::{SKIN, acknowledge_all_but, caution, evaluated, formula, outcome};

fn lotion(title: &str, lines: &[(&str, &str)]) -> Value {
    let mut all = vec![("emulsifying wax", "5 %"), ("almond oil", "15 %")];
    all.extend(lines);
    all.push(("purified water", "q.s. 100 g"));
    formula(title, "lotion", SKIN, "cosmetic", &all)
}

/// Regulation (EC) 1223/2009, Annex V entry 4: at most 0.6 % as sorbic acid. By the molar masses of the data (112.127
/// and 150.217) 0.80 % of the potassium salt are 0.5971 % and 0.81 % are 0.6046 % of the acid.
#[tokio::test(flavor = "multi_thread")]
async fn at_0_80_per_cent_of_sorbate_it_is_weighed_exactly_and_at_0_81_a_limit_is_passed() {
    let clinic = TeachingClinic::start().await;
    let within = clinic.approved(lotion("Lotion 80", &[("potassium sorbate", "0.80 %")])).await;
    let past = clinic.approved(lotion("Lotion 81", &[("potassium sorbate", "0.81 %")])).await;
    let nearly = caution(&clinic.noor, &within, "limit-nearly").await.unwrap();
    assert_eq!(nearly["origins"], json!(["calculated: limit on sorbic acid (EU, law)"]));
    assert!(caution(&clinic.noor, &within, "limit-exceeded").await.is_none());
    let exceeded = caution(&clinic.noor, &past, "limit-exceeded").await.unwrap();
    assert_eq!(exceeded["level"], "contraindication");
    assert_eq!(exceeded["origins"], json!(["calculated: limit on sorbic acid (EU, law)"]));
    // Neither text holds the figure: it is open, and the amount is not.
    for open in [&nearly, &exceeded] {
        assert!(!open["text"].as_str().unwrap().bytes().any(|byte| byte.is_ascii_digit()), "{open}");
    }
    acknowledge_all_but(&clinic.noor, &past, "limit-exceeded").await.fields(&["/contraindications"]);
    clinic.stop().await;
}

/// The acid and its salt count together: 0.4 % of the acid leave room for 0.2679 % of the salt, not for 0.2681 %.
#[tokio::test(flavor = "multi_thread")]
async fn sorbic_acid_and_its_salt_share_one_limit() {
    let clinic = TeachingClinic::start().await;
    for (salt, expected) in [("0.2679 %", "within"), ("0.2681 %", "exceeded")] {
        let both = lotion("Both", &[("sorbic acid", "0.4 %"), ("potassium sorbate", salt)]);
        assert_eq!(outcome(&evaluated(&clinic.ilse, both).await, "sorbic acid", "EU"), expected, "{salt}");
    }
    // What is washed off is held to the same limit.
    let mut washed = lotion("Wash", &[("potassium sorbate", "0.81 %")]);
    washed["route"] = json!("on intact skin, rinse-off");
    assert_eq!(outcome(&evaluated(&clinic.ilse, washed).await, "sorbic acid", "EU"), "exceeded");
    clinic.stop().await;
}
