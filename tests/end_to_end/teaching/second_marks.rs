//! Several second marks of one assignment, all to be given by one marker.

use serde_json::json;
use uuid::Uuid;

use super::moderation::{accepted, levels, share, staffed, waiting};

#[tokio::test(flavor = "multi_thread")]
async fn several_second_marks_of_an_assignment_are_given_and_no_first_mark_is_told_before_the_last() {
    let (course, _) = staffed().await;
    let (noor, ilse, marek) = (&course.room.noor, &course.room.ilse, &course.room.marek);
    share(&course, 100).await;
    let id = course.practical().await;
    for student in [noor, &course.sven] {
        accepted(&course, (student, ilse), &id, levels(2, 1)).await;
    }
    let lines = waiting(marek).await;
    let at =
        |place: usize, what: &str| format!("/v1/moderations/{}{what}", lines[place]["id"].as_str().unwrap());
    assert_eq!(lines.len(), 2);
    let key = Uuid::now_v7().to_string();
    let mark = at(0, "/mark");
    let one = marek.post_with_key(&mark, &key, levels(2, 1)).await.expect(201).json;
    assert_eq!((&one["state"], &one["second"]["points"]), (&json!("given"), &json!(6)));
    // It settled itself, which the other mark must not be guided by.
    for untold in ["first", "settlement"] {
        assert!(one[untold].is_null(), "{untold} in {one}");
    }
    assert_eq!((&one["differences"], &one["can_settle"]), (&json!([]), &json!([])));
    assert_eq!(marek.post_with_key(&mark, &key, levels(2, 1)).await.expect(201).json, one);
    marek.get(&at(0, "")).await.problem(409, "wrong-state");
    marek.post(&mark, levels(1, 1)).await.problem(409, "wrong-state");
    assert_eq!(ilse.get(&at(0, "")).await.expect(200).json["state"], "settled");
    let waits = waiting(marek).await;
    assert_eq!((waits.len(), &waits[0]["id"]), (1, &lines[1]["id"]));

    let last = marek.post(&at(1, "/mark"), levels(1, 1)).await.expect(201).json;
    assert_eq!((&last["state"], &last["first"]["points"]), (&json!("differs"), &json!(6)));
    let both = marek.get(&at(0, "")).await.expect(200).json;
    assert_eq!((&both["state"], &both["first"]["points"]), (&json!("settled"), &json!(6)));
    course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn an_instructor_who_can_read_the_first_mark_does_not_name_themselves() {
    let (course, hana) = staffed().await;
    share(&course, 100).await;
    let id = course.practical().await;
    accepted(&course, (&course.room.noor, &course.room.ilse), &id, levels(2, 1)).await;
    course.enrol(&hana.id, "instructor").await;
    let path = format!("/v1/moderations/{}", waiting(&course.room.marek).await[0]["id"].as_str().unwrap());
    assert_eq!(hana.get(&path).await.expect(200).json["first"]["points"], 6);
    let own = json!({ "person": hana.id });
    let refused = hana.post(&format!("{path}/second-marker"), own).await.fields(&["/person"]);
    assert!(refused.text.contains("Name another instructor or marker."), "{}", refused.text);
    course.stop().await;
}
