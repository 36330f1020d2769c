//! Teaching: cohorts, the work set to them, the questions that students answer before a recipe opens, what they
//! hand in, and how it is marked.
//!
//! May use `people`, `bench`, `formulary`, `recipes`, `policy`, `locks`, `store`. Never here: an amount or a word of the method of a
//! formula. A student answers before the recipe opens, so questions are asked with numbers drawn for the student, and what
//! they take from a formula is what every member of its library may read: names, cautions and the date on its label.

mod agreed;
mod allowances;
mod answer;
mod appeals;
mod assessment;
mod assignments;
mod bank;
mod blind;
mod claims;
mod class;
mod codes;
mod cohorts;
mod content;
mod decide;
mod export;
mod grid;
mod handed;
mod judged;
pub mod kept;
mod listing;
mod local;
mod marks;
mod members;
mod moderated;
mod moderation;
mod named;
mod notes;
mod numbers;
mod of_batch;
mod pair;
mod phrases;
mod proposals;
mod questions;
mod queue;
mod record;
mod reflection;
mod relations;
mod review;
mod rubric;
mod seat;
mod settling;
mod show;
mod stands;
mod stored;
mod submit;
mod versions;
mod work;

pub use agreed::agreement;
pub use allowances::allowance_create;
pub use answer::answer;
pub use appeals::{appeal_create, appeal_decide, appeals, appeals_waiting};
pub use assessment::{assessment, handed_as};
pub use assignments::{assignment, assignment_change, assignment_create, publish, withdraw};
pub use bank::{bank_question_create, bank_questions};
pub use claims::{claim_create, claim_end};
pub use class::class_enrol;
pub use codes::{code_close, code_create, codes, join};
pub use cohorts::{cohort, cohort_change, cohort_create, cohorts};
pub use export::{marks_lines, marks_table};
pub use grid::grid;
pub use listing::{assignments_of, own_assignments, students};
pub use marks::{mark_change, marks};
pub use members::{enrol, members, remove};
pub use moderated::{blind_work, moderation, moderations, moderations_waiting};
pub use moderation::{moderation_share_set, second_mark_create, second_marker_name};
pub use named::{Called, formulas_called};
pub use notes::notes;
pub use of_batch::{CountsFor, counts_for};
pub use phrases::{phrase_create, phrase_remove, phrases};
pub use queue::queue;
pub use record::{record_of, record_own, submission_view};
pub use reflection::{reflection, reflection_save};
pub use relations::{relation_create, relations};
pub use review::review;
pub use seat::may_read_events;
pub use settling::settle;
pub use submit::submit;
pub use work::{begin, questions_of, questions_own};
