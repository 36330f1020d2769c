//! A term of a class: 24 students, three who mark, and four assignments, with work that is late, returned, appealed against and
//! marked twice. What the service counts, shows and exports is compared with what was done here.

mod told;

use std::collections::{BTreeMap, BTreeSet, HashMap};

use chrono::Duration;
use serde_json::{Value, json};
use stillroom_tests::Caller;
use stillroom_tests::clinic::sign_in;

use super::Course;
use super::handed_in::{claim, hand_in};
use super::moderation::{is_drawn, levels, waiting};

/// Those who mark: two instructors of the class, and one who visits it as a marker.
const MARKERS: [&str; 3] = ["ilse.brandt", "marek.dvorsky", "hana.voss"];

/// When each assignment is due in Berlin, and the day before, by when most have handed in.
const DUE: [(&str, &str); 4] = [
    ("2026-03-20T18:00", "2026-03-19T10:00:00Z"),
    ("2026-04-10T18:00", "2026-04-09T10:00:00Z"),
    ("2026-05-08T18:00", "2026-05-07T10:00:00Z"),
    ("2026-06-12T18:00", "2026-06-11T10:00:00Z"),
];

/// Titles that a table has to quote, that a spreadsheet would evaluate, and that are plain.
const TITLES: [&str; 4] =
    ["Cream, the first", "Cream \"by hand\"", "=Cream three", "The last cream: 40 °C, no more"];

/// Places of work, as student and assignment.
type Place = (usize, usize);
const LATE: [Place; 2] = [(3, 0), (17, 2)];
const RETURNED: [Place; 5] = [(3, 0), (8, 0), (12, 1), (20, 2), (5, 3)];
const APPEALED: Place = (10, 1);
const REJECTED: Place = (14, 1);
const EXCUSED: Place = (22, 3);
const NEVER: Place = (23, 3);
/// The assignment of which a fifth of the marks is given twice.
const MODERATED: usize = 2;

/// What is to come of one student's work.
#[derive(Clone, Debug, Default)]
struct Work {
    handed: String,
    batch: String,
    version: u32,
    levels: [u32; 2],
    marks: u32,
    marker: &'static str,
}

impl Work {
    fn points(&self) -> u64 {
        u64::from((self.levels[0] - 1) * 6 + (self.levels[1] - 1) * 4)
    }
}

/// The levels that the first marker gives.
fn first_levels((student, assignment): Place) -> [u32; 2] {
    [
        1 + u32::from(!(student + 2 * assignment).is_multiple_of(3)),
        1 + u32::from(!(3 * student + assignment).is_multiple_of(4)),
    ]
}

fn marker_of((student, assignment): Place) -> &'static str {
    MARKERS[(student + assignment) % MARKERS.len()]
}

/// The class, with what was given so far.
struct Term {
    course: Course,
    names: Vec<String>,
    students: Vec<String>,
    assignments: Vec<String>,
    given: BTreeMap<Place, Work>,
}

impl Term {
    async fn start() -> Self {
        let course = Course::start().await;
        let (room, ilse) = (&course.room, &course.room.ilse);
        let hana = room.clinic.person("hana.voss", "instructor").await;
        ilse.put_bare(&format!("/v1/libraries/{}/members/{}", room.library, hana.id)).await.expect(204);
        ilse.delete(&course.at(&format!("members/{}", room.marek.id))).await.expect(204);
        course.enrol(&room.marek.id, "instructor").await;
        course.enrol(&hana.id, "marker").await;
        hana.acknowledge(&course.oil).await.expect(201);
        let mut names = vec!["noor.haddad".to_owned(), "sven.aalto".to_owned()];
        names.extend((2..24).map(|number| format!("student.{number}")));
        let mut students = vec![room.noor.id.clone(), course.sven.id.clone()];
        students.extend(course.students(&names[2..]).await.into_iter().map(|student| student.id));
        let mut assignments = Vec::new();
        for ((due, _), title) in DUE.iter().zip(TITLES) {
            let mut work = course.work(&json!([]));
            work["title"] = json!(title);
            work["due"] = json!(due);
            work["late_until"] = json!("2026-06-19T18:00");
            assignments.push(course.publish(work).await);
        }
        let excused = json!({ "kind": "excused", "reason": "Ill that month." });
        let path =
            format!("/v1/assignments/{}/students/{}/allowances", assignments[EXCUSED.1], students[EXCUSED.0]);
        ilse.post(&path, excused).await.expect(201);
        Self { course, names, students, assignments, given: BTreeMap::new() }
    }

    async fn signed_in(&self, name: &str) -> Caller {
        sign_in(&self.course.room.clinic.nobody, name).await
    }

    /// Those who mark, signed in at this time.
    async fn markers(&self) -> HashMap<&'static str, Caller> {
        let mut markers = HashMap::new();
        for name in MARKERS {
            let marker = self.signed_in(name).await;
            marker.acknowledge(&self.course.cream).await.expect(201);
            markers.insert(name, marker);
        }
        markers
    }

    /// Hands the work at a place in, or hands it in again.
    async fn hand_in(&mut self, place: Place) {
        let student = self.signed_in(&self.names[place.0]).await;
        let batch = match self.given.get(&place) {
            Some(work) => work.batch.clone(),
            None => self.course.batch(&student).await,
        };
        let handed = hand_in(&student, &self.assignments[place.1], &batch).await.expect(201);
        assert_eq!(handed.json["late"], LATE.contains(&place), "{place:?}");
        let work = self.given.entry(place).or_default();
        work.version += 1;
        (work.handed, work.batch) = (handed.id(), batch);
        assert_eq!(handed.json["number"], work.version);
    }

    /// The work of an assignment that was handed in.
    fn of(&self, assignment: usize) -> Vec<Place> {
        self.given.keys().filter(|place| place.1 == assignment).copied().collect()
    }

    /// Marks work as it is planned, or returns it the first time.
    async fn mark(&mut self, markers: &HashMap<&'static str, Caller>, place: Place) {
        let work = self.given.get_mut(&place).unwrap();
        let marker = marker_of(place);
        claim(&markers[marker], &work.handed).await.expect(201);
        let review = if RETURNED.contains(&place) && work.version == 1 {
            json!({ "verdict": "return", "summary": "Weigh the wax again." })
        } else {
            work.levels = first_levels(place);
            work.marks = 1;
            work.marker = marker;
            let mut mark = levels(work.levels[0], work.levels[1]);
            let mut verdict = "accept";
            if place == REJECTED {
                mark["criteria"][2] =
                    json!({ "criterion": 3, "met": false, "comment": "No lot is recorded." });
                verdict = "reject";
            }
            json!({ "verdict": verdict, "summary": "As I see it.", "mark": mark })
        };
        markers[marker].post(&format!("/v1/batches/{}/reviews", work.batch), review).await.expect(201);
    }

    /// How many of an assignment wait to be marked and how many are settled, as its class is told.
    async fn counts(&self, by: &Caller, assignment: usize) -> (usize, usize) {
        let list = by.get(&self.course.at("assignments")).await.expect(200).json;
        let items = list["items"].as_array().unwrap();
        let one = items.iter().find(|one| one["id"] == self.assignments[assignment]).unwrap();
        let number = |name: &str| usize::try_from(one[name].as_u64().unwrap()).unwrap();
        (number("submitted"), number("settled"))
    }

    /// Every student hands one assignment in, three mark it, and what was returned comes again.
    async fn run(&mut self, assignment: usize) {
        let before = self.course.at_time(DUE[assignment].1, MARKERS[0]).await;
        if assignment == MODERATED {
            self.share(&before, 20).await;
        }
        let all = (0..self.names.len()).map(|student| (student, assignment));
        let (late, in_time): (Vec<Place>, Vec<Place>) =
            all.filter(|place| ![EXCUSED, NEVER].contains(place)).partition(|place| LATE.contains(place));
        for place in in_time {
            self.hand_in(place).await;
        }
        self.course.room.clinic.service.clinic.clock().advance(Duration::days(2));
        for place in &late {
            self.hand_in(*place).await;
        }
        let markers = self.markers().await;
        let places = self.of(assignment);
        let queue = markers["hana.voss"].get("/v1/submissions?limit=100").await.expect(200).json;
        let waits = queue["items"].as_array().unwrap();
        assert_eq!(waits.len(), places.len());
        assert_eq!(waits.iter().filter(|one| one["late"] == true).count(), late.len());
        assert_eq!(self.counts(&markers["ilse.brandt"], assignment).await, (places.len(), 0));
        for place in places {
            self.mark(&markers, place).await;
        }

        let again: Vec<Place> = RETURNED.into_iter().filter(|place| place.1 == assignment).collect();
        self.course.room.clinic.service.clinic.clock().advance(Duration::days(2));
        for place in &again {
            self.hand_in(*place).await;
        }
        let markers = self.markers().await;
        let queue = markers["marek.dvorsky"].get("/v1/submissions").await.expect(200).json;
        let waits: BTreeSet<&str> = queue["items"]
            .as_array()
            .unwrap()
            .iter()
            .map(|one| one["submission"].as_str().unwrap())
            .collect();
        assert_eq!(waits, again.iter().map(|place| self.given[place].handed.as_str()).collect());
        for place in &again {
            self.mark(&markers, *place).await;
        }
        let settled = self.of(assignment).len();
        assert_eq!(self.counts(&markers["marek.dvorsky"], assignment).await, (0, settled));
        if assignment == APPEALED.1 {
            self.appeal(&markers).await;
        }
        if assignment == MODERATED {
            self.moderate(&markers).await;
            self.share(&markers["ilse.brandt"], 0).await;
        }
    }

    /// Sets which share of the marks is given twice from now on.
    async fn share(&self, by: &Caller, percent: u32) {
        by.post(&self.course.at("moderation-shares"), json!({ "percent": percent })).await.expect(201);
    }

    /// A student appeals against a level, and an instructor who gave no mark of the work raises it.
    async fn appeal(&mut self, markers: &HashMap<&'static str, Caller>) {
        let work = self.given.get_mut(&APPEALED).unwrap();
        assert_eq!((work.levels[0], work.marker), (1, "hana.voss"), "there is something to raise");
        let student = sign_in(&self.course.room.clinic.nobody, &self.names[APPEALED.0]).await;
        let path = format!("/v1/submissions/{}/appeal", work.handed);
        let appeal = json!({ "reason": "level_as_described", "criteria": [1] });
        student.post(&path, appeal).await.expect(201);
        let ilse = &markers["ilse.brandt"];
        assert_eq!(ilse.get("/v1/appeals").await.expect(200).json["items"].as_array().unwrap().len(), 1);
        claim(ilse, &work.handed).await.expect(201);
        let upheld = json!({ "outcome": "upheld", "criteria": [{ "criterion": 1, "level": 2 }] });
        ilse.post(&format!("{path}/decision"), upheld).await.expect(201);
        (work.levels[0], work.marks, work.marker) = (2, 2, "ilse.brandt");
        assert_eq!(ilse.get("/v1/appeals").await.expect(200).json["items"], json!([]));
    }

    /// The marks that were drawn are given a second time, by turns at the highest levels and at a lower one. Where they differ
    /// the second marker gives way, or the first.
    async fn moderate(&mut self, markers: &HashMap<&'static str, Caller>) {
        let mut drawn = BTreeSet::new();
        for place in self.of(MODERATED) {
            if is_drawn(&self.course, &self.assignments[MODERATED], &self.given[&place].handed, 20).await {
                drawn.insert(place);
            }
        }
        let (mut seen, mut given) = (BTreeSet::new(), Vec::new());
        for name in MARKERS {
            let lines = waiting(&markers[name]).await;
            let last = lines.len();
            for (place, line) in (1..).zip(lines) {
                let second = if given.len().is_multiple_of(2) { [2, 2] } else { [1, 2] };
                let path = format!("/v1/moderations/{}", line["id"].as_str().unwrap());
                let mark = levels(second[0], second[1]);
                let answer = markers[name].post(&format!("{path}/mark"), mark).await.expect(201).json;
                // The first mark is told only when the last of theirs is given, so that it guides none of the others.
                assert_eq!(
                    (answer["state"] == "given", answer["first"].is_null()),
                    (place < last, place < last)
                );
                given.push((name, path, second));
            }
        }
        let mut agreed = 0;
        for (turn, (name, path, second)) in given.into_iter().enumerate() {
            let both = markers[name].get(&path).await.expect(200).json;
            let student = self.names.iter().position(|name| both["name"] == *name).unwrap();
            let work = self.given.get_mut(&(student, MODERATED)).unwrap();
            assert_ne!(work.marker, name, "no mark is given twice by one marker");
            assert_eq!(both["first"]["points"], work.points());
            seen.insert((student, MODERATED));
            if work.levels == second {
                assert_eq!(both["state"], "settled");
                agreed += 1;
                continue;
            }
            assert_eq!(both["state"], "differs");
            let (by, outcome) = match turn % 4 {
                0 | 1 => (name, "first_stands"),
                _ => (work.marker, "second_taken"),
            };
            markers[by].post(&format!("{path}/settlement"), json!({ "outcome": outcome })).await.expect(201);
            if outcome == "second_taken" {
                (work.levels, work.marks) = (second, 2);
            }
        }
        assert_eq!(seen, drawn, "what was drawn follows from the work and the secret");
        let told = markers["ilse.brandt"].get(&self.course.at("agreement")).await.expect(200).json;
        let of = |one: &&Value| one["assignment"] == self.assignments[MODERATED];
        let told = told["assignments"].as_array().unwrap().iter().find(of);
        let told = told.map(|one| (one["drawn"].clone(), one["pairs"].clone(), one["agreed"].clone()));
        let expected = (json!(drawn.len()), json!(drawn.len()), json!(agreed));
        assert_eq!(told.unwrap_or((json!(0), json!(0), json!(0))), expected);
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_term_of_a_class_is_counted_shown_and_exported_as_it_was_given() {
    let mut term = Term::start().await;
    for assignment in 0..DUE.len() {
        term.run(assignment).await;
    }
    assert_eq!(term.given.len(), 24 * 4 - 2);
    assert_eq!(term.given.values().filter(|work| work.version == 2).count(), RETURNED.len());
    // After the last day the one who handed nothing in stands there as such.
    let ilse = term.course.at_time("2026-06-20T08:00:00Z", "ilse.brandt").await;
    term.grid_is_right(&ilse).await;
    term.exports_are_right(&ilse).await;
    term.files_are_right(&ilse).await;
    term.progress_is_right(&ilse).await;
    term.course.stop().await;
}
