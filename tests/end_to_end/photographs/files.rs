//! The files of photographs: what is missing or was changed is told plainly, and what nothing stands for is removed.

use chrono::Duration;
use clinic::photographs;

use super::Bench;

#[tokio::test(flavor = "multi_thread")]
async fn a_file_that_is_missing_or_was_changed_is_not_shown_and_is_named() {
    let bench = Bench::start().await;
    let clinic = &bench.room.clinic.service.clinic;
    let (kept, other) = (bench.photograph().await.expect(201), bench.photograph().await.expect(201));
    let address = kept.text_at("/picture/address");
    let verdict = photographs::verify(clinic).await.unwrap();
    assert!(verdict.holds());
    assert_eq!(verdict.to_string(), "4 files of photographs were checked. Each is what was kept.");

    // Of the same length, so that only its digest tells.
    let file = bench.folder().join(format!("{}.jpg", kept.id()));
    let whole = std::fs::read(&file).unwrap();
    let mut changed = whole.clone();
    *changed.last_mut().unwrap() ^= 1;
    std::fs::write(&file, &changed).unwrap();
    let gone = bench.room.noor.get(&address).await.problem(410, "gone");
    assert!(
        gone.text.contains("was changed") && gone.text.contains("restore it from a backup"),
        "{}",
        gone.text
    );
    std::fs::write(&file, vec![0; 50_000_000]).unwrap();
    bench.room.noor.get(&address).await.problem(410, "gone");
    let preview = bench.folder().join(format!("{}.preview.jpg", other.id()));
    std::fs::remove_file(&preview).unwrap();
    let gone = bench.room.noor.get(&other.text_at("/preview/address")).await.problem(410, "gone");
    assert!(gone.text.contains("is missing"), "{}", gone.text);
    bench.room.noor.get(&other.text_at("/picture/address")).await.expect(200);

    let verdict = photographs::verify(clinic).await.unwrap();
    assert!(!verdict.holds());
    let said = verdict.to_string();
    assert!(said.contains(&format!("The file of photograph {} was changed.", kept.id())), "{said}");
    let named = format!("The file of the preview of photograph {} is missing.", other.id());
    assert!(
        said.contains(&named) && said.ends_with("4 files of photographs were checked. 2 do not hold."),
        "{said}"
    );

    std::fs::write(&file, &whole).unwrap();
    bench.room.noor.get(&address).await.expect(200);
    bench.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn files_without_a_row_are_removed_after_an_hour_and_others_are_left() {
    let bench = Bench::start().await;
    let clinic = &bench.room.clinic.service.clinic;
    bench.photograph().await.expect(201);
    let old = clinic.rng().id(clinic.clock().now());
    let orphan = |id: uuid::Uuid| bench.folder().join(format!("{id}.jpg"));
    std::fs::write(orphan(old), "cut off").unwrap();
    std::fs::write(bench.folder().join("notes.txt"), "of the clinic").unwrap();
    clinic.clock().advance(Duration::minutes(59));
    let new = clinic.rng().id(clinic.clock().now());
    std::fs::write(orphan(new), "on its way").unwrap();
    assert_eq!(photographs::sweep(clinic).await.unwrap(), 0);
    clinic.clock().advance(Duration::minutes(2));
    assert_eq!(photographs::sweep(clinic).await.unwrap(), 1);
    let left = bench.files();
    assert_eq!(left.len(), 4, "{left:?}");
    assert!(!orphan(old).exists() && orphan(new).exists());
    bench.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_folder_that_takes_nothing_refuses_the_photograph_and_writes_no_row() {
    let file = std::env::temp_dir().join(format!("no-folder-{}", uuid::Uuid::now_v7()));
    std::fs::write(&file, "").unwrap();
    let path = file.to_str().unwrap();
    let bench = Bench::start_with(&[("STILLROOM_PHOTOGRAPHS", path)]).await;
    let refused = bench.photograph().await.problem(503, "unavailable");
    assert_eq!(refused.header("retry-after"), "1");
    assert!(refused.text.contains("Photographs cannot be stored"), "{}", refused.text);
    assert!(!refused.text.contains(path), "where they are kept is nobody's business");
    let list = bench.list(&bench.room.noor).await;
    assert_eq!(list["photographs"].as_array().unwrap().len(), 0);
    std::fs::remove_file(&file).unwrap();
    bench.photograph().await.expect(201);
    std::fs::remove_dir_all(&file).unwrap();
    bench.stop().await;
}
