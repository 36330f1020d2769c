//! Control charts of how closely records follow their recipes: relative errors, limits from twenty points on, and no amount.

use diesel_async::SimpleAsyncConnection;
use serde_json::{Value, json};
use stillroom_tests::{Caller, database};

use super::Course;
use super::handed_in::{claim, hand_in};

/// A batch of the cream with every line weighed, and its yield.
async fn made(course: &Course, maker: &Caller, lines: [&str; 4], came: Option<&str>) -> String {
    maker.acknowledge(&course.cream).await.expect(201);
    let batch = maker.post("/v1/batches", json!({ "revision": course.cream })).await.expect(201).id();
    let entries = format!("/v1/batches/{batch}/entries");
    for ((line, target), grams) in ["1.1", "1.2", "2.1", "2.2"].iter().zip(AS_ASKED).zip(lines) {
        let mut weighed =
            json!({ "kind": "weighing", "line": line, "quantity": format!("{grams} g"), "lot": "W-1" });
        let [target, weight] = [target, grams].map(|text| text.parse::<f64>().unwrap());
        if (weight - target).abs() > target * 0.02 {
            weighed["deviation"] = json!("It poured faster than expected.");
        }
        maker.post(&entries, weighed).await.expect(201);
    }
    if let Some(came) = came {
        maker.post(&entries, json!({ "kind": "yield", "quantity": format!("{came} g") })).await.expect(201);
    }
    batch
}

fn percents(chart: &Value) -> Vec<&str> {
    chart["points"].as_array().unwrap().iter().map(|point| point["percent"].as_str().unwrap()).collect()
}

/// The cream asks for 80, 300, 4 and 616 g, of which 1000 g come.
const AS_ASKED: [&str; 4] = ["80", "300", "4", "616"];

#[tokio::test(flavor = "multi_thread")]
async fn charts_tell_relative_errors_and_have_limits_from_twenty_points_on() {
    let course = Course::start().await;
    let (noor, ilse, marek) = (&course.room.noor, &course.room.ilse, &course.room.marek);
    let none = noor.get("/v1/progress/charts").await.expect(200).json;
    assert_eq!((&none["points_needed"], &none["weighing_error"]["points"]), (&json!(20), &json!([])));
    assert_eq!(marek.get(&course.at("charts")).await.expect(200).json["formulas"], json!([]));

    for at in 0..5 {
        let id = course.practical().await;
        // One per cent over, one under, as asked; the last water is far off.
        let water = if at == 4 { "739.2" } else { "616" };
        let batch = made(&course, noor, ["80.8", "297", "4", water], Some("950")).await;
        hand_in(noor, &id, &batch).await.expect(201);
        if at == 3 {
            let few = noor.get("/v1/progress/charts").await.expect(200).json;
            assert!(few["weighing_error"]["limits"].is_null());
            assert!(few["weighing_error"]["why_not"].as_str().unwrap().contains("at least 20 points"));
        }
    }
    let charts = noor.get("/v1/progress/charts").await.expect(200);
    let told: Vec<f64> = charts.text.split('"').filter_map(|text| text.parse().ok()).collect();
    for amount in [80.8, 80.0, 297.0, 300.0, 4.0, 616.0, 739.2, 950.0, 1000.0] {
        assert!(!told.contains(&amount), "{amount} in {}", charts.text);
    }
    let weighing = &charts.json["weighing_error"];
    let one = ["1.00", "-1.00", "0.00", "0.00"];
    let all: Vec<&str> = one.iter().cycle().take(19).copied().chain(["20.00"]).collect();
    assert_eq!(percents(weighing), all);
    // Mean 20 / 20; ranges of 2, 1, 0, 1 in turn, the last one 20: 39 / 19.
    let limits = &weighing["limits"];
    assert_eq!((&limits["mean"], &limits["mean_range"]), (&json!("1.00"), &json!("2.05")));
    assert_eq!((&limits["lower"], &limits["upper"]), (&json!("-4.46"), &json!("6.46")));
    assert_eq!(limits["range_upper"], "6.71");
    let points = weighing["points"].as_array().unwrap();
    let beyond: Vec<usize> = (0..20).filter(|at| points[*at]["beyond"] == true).collect();
    assert_eq!(beyond, [19]);
    assert_eq!((&points[0]["range_percent"], &points[1]["range_percent"]), (&Value::Null, &json!("2.00")));
    assert_eq!(percents(&charts.json["yield_share"]), ["95.00"; 5]);

    // Those who teach read the same of the class and of the student.
    let charted = marek.get(&course.at("charts")).await.expect(200).json;
    let formula = charted["formulas"][0]["formula"].as_str().unwrap().to_owned();
    assert_eq!(
        (&charted["formulas"][0]["title"], &charted["formulas"][0]["records"]),
        (&json!("Calendula cream"), &json!(5))
    );
    let of = course.at(&format!("students/{}/charts", noor.id));
    let class = course.at(&format!("charts/{formula}"));
    for path in [&of, &class] {
        assert_eq!(marek.get(path).await.expect(200).json, charts.json, "{path}");
        course.sven.get(path).await.problem(403, "forbidden");
        course.room.clinic.administrator.get(path).await.problem(404, "not-found");
    }
    ilse.get("/v1/progress/charts").await.problem(403, "forbidden");
    let other = course.at(&format!("charts/{}", course.cohort));
    assert_eq!(marek.get(&other).await.expect(200).json["weighing_error"]["points"], json!([]));
    course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_correction_and_the_last_version_count_and_what_is_blind_does_not() {
    let course = Course::start().await;
    let (noor, ilse, marek) = (&course.room.noor, &course.room.ilse, &course.room.marek);
    for who in [ilse, marek] {
        who.acknowledge(&course.cream).await.expect(201);
    }
    let id = course.practical().await;
    let batch = made(&course, noor, ["88", "300", "4", "616"], None).await;
    let first = hand_in(noor, &id, &batch).await.expect(201).id();
    assert_eq!(
        percents(&noor.get("/v1/progress/charts").await.expect(200).json["weighing_error"])[0],
        "10.00"
    );
    claim(ilse, &first).await.expect(201);
    let back = json!({ "verdict": "return", "summary": "Look at the wax again." });
    ilse.post(&format!("/v1/batches/{batch}/reviews"), back).await.expect(201);
    let record = noor.get(&format!("/v1/batches/{batch}")).await.expect(200).json;
    let corrected = json!({ "kind": "weighing", "line": "1.1", "quantity": "80 g", "lot": "W-1",
        "corrects": record["entries"][0]["id"], "reason": "Read wrongly." });
    noor.post(&format!("/v1/batches/{batch}/entries"), corrected).await.expect(201);
    ilse.post(&course.at("moderation-shares"), json!({ "percent": 100 })).await.expect(201);
    let second = hand_in(noor, &id, &batch).await.expect(201).id();
    let own = noor.get("/v1/progress/charts").await.expect(200).json;
    assert_eq!(percents(&own["weighing_error"]), ["0.00"; 4]);
    assert_eq!(own["yield_share"]["points"], json!([]), "no yield was recorded");

    claim(ilse, &second).await.expect(201);
    let mark = json!({ "criteria": [{ "criterion": 1, "level": 2 }, { "criterion": 2, "level": 2 },
        { "criterion": 3, "met": true }] });
    let review = json!({ "verdict": "accept", "summary": "As I see it.", "mark": mark });
    ilse.post(&format!("/v1/batches/{batch}/reviews"), review).await.expect(201);
    assert_eq!(marek.get("/v1/moderations").await.expect(200).json["items"].as_array().unwrap().len(), 1);
    let of = course.at(&format!("students/{}/charts", noor.id));
    assert_eq!(marek.get(&of).await.expect(200).json["weighing_error"]["points"], json!([]));
    assert_eq!(marek.get(&course.at("charts")).await.expect(200).json["formulas"], json!([]));
    assert_eq!(ilse.get(&of).await.expect(200).json, own);
    course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn shares_are_kept_coarse_and_never_changed() {
    let course = Course::start().await;
    let id = course.practical().await;
    let batch = made(&course, &course.room.noor, AS_ASKED, Some("987.6543")).await;
    hand_in(&course.room.noor, &id, &batch).await.expect(201);
    let mut owner = database::owner(&course.room.clinic.database).await;
    for (act, why) in [
        ("SET deviations = ARRAY[0.00012]", "handed_precision_coarse"),
        ("SET yield_share = 0.98765", "handed_precision_coarse"),
        ("SET deviations = ARRAY[-1.5]", "handed_precision_deviations"),
        ("SET deviations = ARRAY[NULL::numeric]", "handed_precision_deviations"),
        ("SET yield_share = -0.5", "handed_precision_yield"),
    ] {
        let refused = owner.batch_execute(&format!("UPDATE handed_precision {act}")).await.unwrap_err();
        assert!(refused.to_string().contains(why), "{act}: {refused}");
    }
    let as_service = "BEGIN; SET LOCAL ROLE stillroom_service; UPDATE handed_precision SET yield_share = 1";
    let refused = owner.batch_execute(as_service).await.unwrap_err().to_string();
    assert!(refused.contains("permission denied"), "{refused}");
    owner.batch_execute("ROLLBACK").await.unwrap();
    let own = course.room.noor.get("/v1/progress/charts").await.expect(200).json;
    assert_eq!(percents(&own["yield_share"]), ["98.77"]);
    course.stop().await;
}
