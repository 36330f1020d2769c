//! What the service tells of a term at its end, compared with what was given: the grid, both exports, and progress.

use std::collections::BTreeSet;

use serde_json::{Value, json};
use stillroom_tests::Caller;

use super::super::grid::unpacked;
use super::{EXCUSED, LATE, Place, REJECTED, TITLES, Term, Work};

impl Term {
    /// The grid: how everything stands.
    pub(super) async fn grid_is_right(&self, by: &Caller) {
        let grid = by.get(&self.course.at("grid")).await.expect(200).json;
        let heads: Vec<&str> =
            grid["assignments"].as_array().unwrap().iter().map(|one| one["id"].as_str().unwrap()).collect();
        assert_eq!(heads, self.assignments);
        let rows = grid["students"].as_array().unwrap();
        assert_eq!(rows.len(), self.students.len());
        for row in rows {
            let student = self.students.iter().position(|id| row["person"] == *id).unwrap();
            assert_eq!(row["name"], self.names[student]);
            for assignment in 0..self.assignments.len() {
                let place = (student, assignment);
                let expected = match self.given.get(&place) {
                    Some(work) => json!({
                        "state": if place == REJECTED { "rejected" } else { "done" }, "submission": work.handed,
                        "number": work.version, "late": LATE.contains(&place), "points": work.points(),
                    }),
                    None => {
                        let state = if place == EXCUSED { "excused" } else { "closed" };
                        json!({ "state": state, "number": 0, "late": false })
                    }
                };
                assert_eq!(row["cells"][assignment], expected, "{place:?}");
            }
        }
    }

    /// Both exports: a line for each mark that counts, in the order of assignments and names, with what was given.
    pub(super) async fn exports_are_right(&self, by: &Caller) {
        let mut expected: Vec<(Place, &Work)> =
            self.given.iter().map(|(place, work)| (*place, work)).collect();
        expected.sort_by_key(|(place, _)| (place.1, &self.names[place.0]));
        let table = by.get(&self.course.at("marks.csv")).await.expect(200);
        let mut reader = csv::Reader::from_reader(table.text.as_bytes());
        let heads: Vec<String> = reader.headers().unwrap().iter().map(str::to_owned).collect();
        let rows: Vec<csv::StringRecord> = reader.records().collect::<Result<_, _>>().unwrap();
        let lines = by.get(&self.course.at("marks.ndjson")).await.expect(200);
        let lines: Vec<Value> = lines.text.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
        assert_eq!((rows.len(), lines.len()), (expected.len(), expected.len()));
        for ((place, work), (row, line)) in expected.into_iter().zip(rows.iter().zip(&lines)) {
            let told = json!({
                "assignment": self.assignments[place.1], "title": TITLES[place.1], "student": self.students[place.0],
                "name": self.names[place.0], "submission": work.handed, "version": work.version,
                "verdict": if place == REJECTED { "rejected" } else { "accepted" }, "late": LATE.contains(&place),
                "points": work.points(), "of_points": 10, "marks": work.marks, "marker": work.marker, "at": line["at"],
            });
            for (head, cell) in heads.iter().zip(row) {
                assert_eq!(line[head], told[head], "{head} of {place:?}");
                let text = told[head].as_str().map_or_else(|| told[head].to_string(), str::to_owned);
                let text = if text.starts_with('=') { format!("'{text}") } else { text };
                assert_eq!(cell, text, "{head} of {place:?}");
            }
            let levels: Vec<u64> =
                (0..2).map(|criterion| line["criteria"][criterion]["level"].as_u64().unwrap()).collect();
            assert_eq!(levels, work.levels.map(u64::from), "{place:?}");
            assert_eq!(line["criteria"][2]["met"], place != REJECTED);
        }
    }

    /// What each student reads as progress, and where the class struggles.
    pub(super) async fn progress_is_right(&self, by: &Caller) {
        for (student, id) in self.students.iter().enumerate() {
            let own: Vec<(&Place, &Work)> =
                self.given.iter().filter(|(place, _)| place.0 == student).collect();
            let accepted: Vec<u64> = own
                .iter()
                .rev()
                .filter(|(place, _)| **place != REJECTED)
                .map(|(_, work)| work.points())
                .collect();
            let told = by.get(&self.course.at(&format!("students/{id}/progress"))).await.expect(200).json;
            let read = told["accepted"].as_array().unwrap();
            let points: Vec<u64> = read.iter().map(|one| one["points"].as_u64().unwrap()).collect();
            assert_eq!(points, accepted, "{}: the last first", self.names[student]);
            for (place, title) in ["Emulsion", "Weighing"].into_iter().enumerate() {
                let criterion = &told["criteria"][place];
                assert_eq!(criterion["title"], title);
                let levels: Vec<u64> = criterion["marks"]
                    .as_array()
                    .unwrap()
                    .iter()
                    .map(|mark| mark["level"].as_u64().unwrap())
                    .collect();
                let expected: Vec<u64> =
                    own.iter().map(|(_, work)| u64::from(work.levels[1 - place])).collect();
                assert_eq!(levels, expected, "{title} of {}", self.names[student]);
            }
        }
        let class = by.get(&self.course.at("difficulties")).await.expect(200).json;
        for (place, title) in ["Weighing", "Emulsion"].into_iter().enumerate() {
            let below = self.given.values().filter(|work| work.levels[place] == 1).count();
            let of = |one: &&Value| one["title"] == title;
            let told = class["criteria"].as_array().unwrap().iter().find(of).unwrap();
            assert_eq!(
                (&told["works"], &told["below"]),
                (&json!(self.given.len()), &json!(below)),
                "{title}"
            );
        }
    }

    /// The files for another system: a line item for each assignment, and a result for each mark that counts.
    pub(super) async fn files_are_right(&self, by: &Caller) {
        let archive = by.get(&self.course.at("oneroster.zip")).await.expect(200);
        let files = unpacked(&archive.bytes);
        let items: Vec<&String> = files["lineItems.csv"].iter().map(|item| &item["sourcedId"]).collect();
        assert_eq!(items, self.assignments.iter().collect::<Vec<_>>());
        let results = &files["results.csv"];
        assert_eq!(results.len(), self.given.len());
        for result in results {
            let student = self.students.iter().position(|id| *id == result["studentSourcedId"]).unwrap();
            let assignment =
                self.assignments.iter().position(|id| *id == result["lineItemSourcedId"]).unwrap();
            let work = &self.given[&(student, assignment)];
            let told = [&result["score"], &result["late"]];
            assert_eq!(
                told,
                [&work.points().to_string(), &LATE.contains(&(student, assignment)).to_string()]
            );
        }
        let ids: BTreeSet<&String> = results.iter().map(|result| &result["sourcedId"]).collect();
        assert_eq!(ids.len(), results.len());
    }
}
