//! A published assignment does not change silently.

use chrono::Duration;
use serde_json::json;
use stillroom_tests::clinic::sign_in;

use super::{Course, act, begin};

#[tokio::test(flavor = "multi_thread")]
async fn a_published_assignment_changes_by_version_with_its_reason() {
    let course = Course::start().await;
    let (ilse, noor) = (&course.room.ilse, &course.room.noor);
    let asked = json!([{ "kind": "jar_filling" }]);
    let made = ilse.post(&course.at("assignments"), course.work(&asked)).await.expect(201);
    let path = format!("/v1/assignments/{}", made.id());
    // A draft is changed freely, and nobody but those who teach sees it.
    noor.get(&path).await.problem(404, "not-found");
    let mut work = course.work(&asked);
    work["title"] = json!("Make a cream");
    let changed = ilse.put(&path, &made.etag(), json!({ "content": work })).await.expect(200);
    let published = act(ilse, &format!("{path}/publication")).await.expect(201);
    assert_eq!(noor.get(&path).await.expect(200).json["title"], "Make a cream");
    begin(noor, &made.id()).await.expect(201);

    work["due"] = json!("2026-03-22T18:00");
    ilse.put(&path, &changed.etag(), json!({ "content": work })).await.problem(412, "stale");
    let unsaid = json!({ "content": work });
    ilse.put(&path, &published.etag(), unsaid).await.fields(&["/reason"]);
    let mut other = work.clone();
    other["formulas"] = json!([course.oil]);
    other["questions"] = json!([]);
    let other = json!({ "content": other, "reason": "Another one." });
    ilse.put(&path, &published.etag(), other).await.fields(&["/content/formulas", "/content/questions"]);
    let longer = json!({ "content": work, "reason": "Two more days, because of the holiday." });
    let now = ilse.put(&path, &published.etag(), longer).await.expect(200);
    assert_eq!(now.json["due"]["local"], "2026-03-22T18:00:00+01:00");
    let read = noor.get(&path).await.expect(200);
    assert_eq!(read.json["versions"][0]["number"], 3);
    assert_eq!(read.json["versions"][0]["reason"], "Two more days, because of the holiday.");
    assert_eq!(read.json["versions"][0]["created_by_name"], "ilse.brandt");

    let none = json!({ "reason": " " });
    ilse.post(&format!("{path}/withdrawal"), none).await.fields(&["/reason"]);
    let reason = json!({ "reason": "The herb did not arrive." });
    ilse.post(&format!("{path}/withdrawal"), reason.clone()).await.expect(201);
    noor.get(&path).await.problem(404, "not-found");
    ilse.post(&format!("{path}/withdrawal"), reason).await.problem(409, "wrong-state");
    let tag = ilse.get(&path).await.expect(200).etag();
    let again = json!({ "content": work, "reason": "After all." });
    ilse.put(&path, &tag, again).await.problem(409, "wrong-state");
    act(ilse, &format!("{path}/publication")).await.problem(409, "wrong-state");
    course.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_was_due_already_or_may_not_be_made_is_not_published() {
    let course = Course::start().await;
    let room = &course.room;
    let mut work = course.work(&json!([]));
    work["due"] = json!("2026-03-02T09:30");
    work["late_until"] = json!(null);
    let soon = room.ilse.post(&course.at("assignments"), work).await.expect(201).id();
    let withdrawn = room.ilse.post(&course.at("assignments"), course.work(&json!([]))).await.expect(201).id();
    room.clinic.service.clinic.clock().advance(Duration::minutes(31));
    let ilse = sign_in(&room.clinic.nobody, "ilse.brandt").await;
    let late = act(&ilse, &format!("/v1/assignments/{soon}/publication")).await.problem(409, "wrong-state");
    assert!(late.text_at("/detail").contains("due already"), "{}", late.text);
    let reason = json!({ "reason": "A doubtful lot." });
    ilse.post(&format!("/v1/revisions/{}/withdrawal", course.cream), reason).await.expect(200);
    let gone =
        act(&ilse, &format!("/v1/assignments/{withdrawn}/publication")).await.problem(409, "wrong-state");
    assert!(gone.text_at("/detail").contains("is withdrawn now"), "{}", gone.text);
    course.stop().await;
}
