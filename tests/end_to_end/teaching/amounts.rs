//! The questions: each student's own numbers, the answers judged, the common errors named, and no amount of the recipe.

use std::collections::BTreeSet;

use serde_json::{Value, json};

use super::{Course, answer, begin, give_up, given};
use crate::calculations::{ask, number};

const KINDS: [&str; 5] = ["jar_filling", "bottle_filling", "spirit_dilution", "use_by", "must_not_use"];

fn all() -> Value {
    json!(KINDS.map(|kind| json!({ "kind": kind })))
}

/// The questions of an assignment that two students have begun, with ten attempts.
async fn begun(course: &Course, questions: &Value) -> (String, [Vec<Value>; 2]) {
    let mut work = course.work(questions);
    work["attempts"] = json!(10);
    let id = course.publish(work).await;
    let of =
        async |caller| begin(caller, &id).await.expect(201).json["questions"].as_array().unwrap().clone();
    let both = [of(&course.room.noor).await, of(&course.sven).await];
    (id, both)
}

#[tokio::test(flavor = "multi_thread")]
async fn the_same_student_always_gets_the_same_numbers_and_two_students_do_not() {
    let course = Course::start().await;
    let (id, [noors, svens]) = begun(&course, &all()).await;
    for (one, other) in noors.iter().zip(&svens) {
        assert_eq!(one["kind"], other["kind"]);
        if one["kind"] != "must_not_use" {
            assert_ne!(one["given"], other["given"]);
        }
    }
    let again = begin(&course.room.noor, &id).await.expect(201);
    assert_eq!(again.json["questions"].as_array().unwrap(), &noors);
    let read = course.room.noor.get(&format!("/v1/assignments/{id}/questions")).await.expect(200);
    assert_eq!(read.json["questions"].as_array().unwrap(), &noors);
    // What another student has is hidden; who assesses sees it.
    let path = format!("/v1/assignments/{id}/students/{}", course.sven.id);
    course.room.noor.get(&path).await.problem(403, "forbidden");
    let seen = course.room.marek.get(&path).await.expect(200);
    assert_eq!(seen.json["questions"].as_array().unwrap(), &svens);
    let foreign = answer(&course.room.noor, &svens[0], &[("mass", &["1 g"])]).await;
    foreign.problem(404, "not-found");
    course.stop().await;
}

/// What was found in the first part of the last answer.
fn found(question: &Value) -> &Value {
    &question["answers"].as_array().unwrap().last().unwrap()["found"][0]
}

#[tokio::test(flavor = "multi_thread")]
async fn each_common_error_of_filling_jars_is_named() {
    let course = Course::start().await;
    let (_, [noors, _]) = begun(&course, &json!([{ "kind": "jar_filling" }])).await;
    let (noor, question) = (&course.room.noor, &noors[0]);
    let (jars, full, empty) = (given(question, "number"), given(question, "full"), given(question, "empty"));
    let (loss, share) = (given(question, "loss") / 100.0, given(question, "share") / 100.0);
    // Worked out here by hand, as a learner would.
    let right = jars * (full - empty) / (1.0 - loss) * share;
    for (value, error) in [
        (jars * (full - empty) * (1.0 + loss) * share, "loss_as_markup"),
        (jars * (full - empty) * share, "loss_forgotten"),
        ((jars - 1.0) * (full - empty) / (1.0 - loss) * share, "one_forgotten"),
        ((full - empty) / (1.0 - loss) * share, "one_only"),
        (jars * full / (1.0 - loss) * share, "tare_counted"),
    ] {
        let wrong = answer(noor, question, &[("mass", &[&format!("{value:.4} g")])]).await.expect(201);
        let found = found(&wrong.json);
        assert_eq!((&found["right"], &found["error"]), (&json!(false), &json!(error)), "{}", wrong.text);
        assert!(!found["says"].as_str().unwrap().is_empty());
    }
    let cups = answer(noor, question, &[("mass", &["2 US cups"])]).await.expect(201);
    assert_eq!(found(&cups.json)["error"], "volume_for_mass");
    // Without its unit an answer is returned for it, and is no attempt.
    let bare = answer(noor, question, &[("mass", &[&format!("{right:.3}")])]).await;
    let bare = bare.fields(&["/answers/0/values/0"]);
    assert!(bare.text.contains("has no unit"), "{}", bare.text);
    let ounces = format!("{:.6} oz", right / 28.349_523_125);
    let converted = answer(noor, question, &[("mass", &[&ounces])]).await.expect(201);
    assert_eq!(converted.json["attempts_used"], 7, "five errors, the cups and this one");
    assert_eq!(found(&converted.json)["right"], true);
    assert!(found(&converted.json)["read_as"].as_str().unwrap().ends_with(" g."), "{}", converted.text);
    course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_share_by_mass_and_added_volumes_are_told_from_the_right_answer() {
    let course = Course::start().await;
    let both = json!([{ "kind": "bottle_filling" }, { "kind": "spirit_dilution" }]);
    let (_, [noors, _]) = begun(&course, &both).await;
    let (noor, bottles, dilution) = (&course.room.noor, &noors[0], &noors[1]);
    let volume = given(bottles, "number") * given(bottles, "contents");
    let (loss, share) = (given(bottles, "loss") / 100.0, given(bottles, "share") / 100.0);
    let w_v = format!("{:.4} g", volume / (1.0 - loss) * share);
    let wrong = answer(noor, bottles, &[("mass", &[&w_v])]).await.expect(201);
    assert_eq!(found(&wrong.json)["error"], "weight_in_volume");
    let w_w = format!("{:.4} g", volume * given(bottles, "density") / (1.0 - loss) * share);
    let right = answer(noor, bottles, &[("mass", &[&w_w])]).await.expect(201);
    assert_eq!(right.json["state"], "answered", "{}", right.text);

    // The calculator of the same service says what is right.
    let (wanted, strength, stock) = (
        given(dilution, "volume to make"),
        given(dilution, "strength to make"),
        given(dilution, "strength of"),
    );
    let spirit = wanted * strength / stock;
    let added = format!("{:.3} mL", wanted - spirit);
    let spirit = format!("{spirit:.3} mL");
    let wrong = answer(noor, dilution, &[("spirit", &[&spirit]), ("water", &[&added])]).await.expect(201);
    let parts = &wrong.json["answers"][0]["found"];
    assert_eq!((&parts[0]["right"], &parts[1]["right"]), (&json!(true), &json!(false)), "{}", wrong.text);
    assert_eq!(parts[1]["error"], "volumes_added");
    let asked = json!({ "dilution": {
        "wanted": format!("{wanted} mL"), "strength": format!("{strength} %"), "stock": format!("{stock} %") } });
    let calculated = ask(noor, "alcohol", asked).await.expect(200);
    let water = number(&calculated, "water or weaker spirit by volume");
    let given_up = give_up(noor, dilution).await;
    let worked = given_up["worked"]["answers"][1]["values"][0].as_str().unwrap();
    let said: f64 = worked.strip_suffix(" mL").unwrap().parse().unwrap();
    // Said to four significant digits.
    assert!((said - water).abs() / water < 0.0005, "{said} and {water}");
    assert!(given_up["worked"]["steps"].to_string().contains("contracts"), "{given_up}");
    course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_earlier_of_rule_and_lot_is_the_use_by_date() {
    let course = Course::start().await;
    let (_, [noors, _]) = begun(&course, &json!([{ "kind": "use_by" }])).await;
    let (noor, question) = (&course.room.noor, &noors[0]);
    let value = |place: usize| question["given"][place]["value"].as_str().unwrap().to_owned();
    let (made_on, lot) = (value(0), value(1));
    let label =
        noor.get(&format!("/v1/revisions/{}/label?made_on={made_on}", course.cream)).await.expect(200);
    let (by_rule, rule) = (label.text_at("/use_by/day"), label.text_at("/use_by/because"));
    let (right, later) =
        if lot < by_rule { (lot.clone(), by_rule.clone()) } else { (by_rule.clone(), lot.clone()) };
    let options = question["parts"][1]["options"].as_array().unwrap();
    let of_lot = options.iter().find(|option| option.as_str().unwrap().starts_with("the lot of")).unwrap();
    let of_lot = of_lot.as_str().unwrap().to_owned();
    assert!(options.contains(&json!(rule)), "{question}");
    let binds = if lot < by_rule { &of_lot } else { &rule };
    let wrong = answer(noor, question, &[("day", &[&later]), ("rule", &[binds])]).await.expect(201);
    assert_eq!(found(&wrong.json)["error"], "later_date");
    let next: chrono::NaiveDate = right.parse().unwrap();
    let next = next.succ_opt().unwrap().to_string();
    if next != later {
        let wrong = answer(noor, question, &[("day", &[&next]), ("rule", &[binds])]).await.expect(201);
        assert_eq!(found(&wrong.json)["error"], "one_day_off");
    }
    let done = answer(noor, question, &[("day", &[&right]), ("rule", &[binds])]).await.expect(201);
    assert_eq!(done.json["state"], "answered", "{}", done.text);
    course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn who_must_not_use_it_are_the_groups_of_the_contraindications() {
    let course = Course::start().await;
    let (_, [noors, _]) = begun(&course, &json!([{ "kind": "must_not_use" }])).await;
    let (noor, question) = (&course.room.noor, &noors[0]);
    let set = noor.get(&format!("/v1/revisions/{}/cautions", course.cream)).await.expect(200);
    let barred: BTreeSet<&str> = set.json["cautions"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|caution| matches!(caution["level"].as_str(), Some("contraindication" | "stop")))
        .flat_map(|caution| caution["audiences"].as_array().unwrap())
        .map(|audience| audience.as_str().unwrap())
        .filter(|audience| *audience != "everyone")
        .collect();
    let options: Vec<String> = question["parts"][0]["options"]
        .as_array()
        .unwrap()
        .iter()
        .map(|option| option.as_str().unwrap().to_owned())
        .collect();
    let every: Vec<&str> = options.iter().map(String::as_str).collect();
    let wrong = answer(noor, question, &[("groups", &every)]).await.expect(201);
    assert_eq!(found(&wrong.json)["right"], false, "not all of them");
    let done = give_up(noor, question).await;
    let right = done["worked"]["answers"][0]["values"].as_array().unwrap();
    assert_eq!(right.len(), barred.len().max(1), "{done} and {barred:?}");
    let others = begun(&course, &json!([{ "kind": "must_not_use" }])).await.1;
    let right: Vec<&str> = right.iter().map(|value| value.as_str().unwrap()).collect();
    let done = answer(noor, &others[0][0], &[("groups", &right)]).await.expect(201);
    assert_eq!(done.json["state"], "answered", "{}", done.text);
    course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn no_question_and_no_worked_answer_tells_an_amount_or_the_method() {
    let course = Course::start().await;
    let room = &course.room;
    // Digits that no question draws, and a word of the method.
    let mut content = crate::formulas::infused_oil();
    content["title"] = json!("Planted oil");
    content["phases"][0]["lines"][0]["amount"] = json!("103.4571 g");
    content["phases"][0]["lines"][1]["amount"] = json!("1011.6937 g");
    content["method"][0]["do"] = json!("Cover with zanthoberel");
    content["yield"] = json!("853.2719 g");
    let planted = room.approved(content).await;
    let mut work = course.work(&all());
    work["formulas"] = json!([planted]);
    let id = course.publish(work).await;
    let asked = begin(&room.noor, &id).await.expect(201);
    let mut said = asked.text.clone();
    for question in asked.json["questions"].as_array().unwrap() {
        said += &give_up(&room.noor, question).await.to_string();
    }
    for canary in ["103.4571", "1011.6937", "853.2719", "zanthoberel"] {
        assert!(!said.contains(canary), "{canary} in {said}");
    }
    course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_question_of_the_bank_is_a_number_with_its_unit_or_a_choice() {
    let course = Course::start().await;
    let ilse = &course.room.ilse;
    let mut made = Vec::new();
    for answer in [
        json!({ "number": { "value": "45 %", "tolerance_percent": "0.5" } }),
        json!({ "number": { "value": "8.2", "tolerance_percent": "2" } }),
        json!({ "choice": { "options": ["It parts", "It browns"], "right": 2 } }),
    ] {
        let bank = json!({ "text": "What follows?", "worked": "Because.", "answer": answer });
        made.push(ilse.post(&course.at("questions"), bank).await.expect(201).id());
    }
    let asked =
        json!(made.iter().map(|id| json!({ "kind": "bank", "bank_question": id })).collect::<Vec<_>>());
    let (_, [noors, _]) = begun(&course, &asked).await;
    let noor = &course.room.noor;
    answer(noor, &noors[0], &[("answer", &["45"])]).await.fields(&["/answers/0/values/0"]);
    answer(noor, &noors[1], &[("answer", &["8.2 g"])]).await.fields(&["/answers/0/values/0"]);
    answer(noor, &noors[2], &[("answer", &["It melts"])]).await.fields(&["/answers/0/values/0"]);
    for (question, value) in [(&noors[0], "45.2 %"), (&noors[1], "8.3"), (&noors[2], "it browns")] {
        let done = answer(noor, question, &[("answer", &[value])]).await.expect(201);
        assert_eq!(done.json["state"], "answered", "{}", done.text);
    }
    // Students see what is asked, and not the answers.
    noor.get(&course.at("questions")).await.problem(403, "forbidden");
    assert_eq!(
        ilse.get(&course.at("questions")).await.expect(200).json["items"].as_array().unwrap().len(),
        3
    );
    course.stop().await;
}
