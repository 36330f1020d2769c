//! The routes, by subject. A handler parses, calls one clinic function, and answers.

mod amendments;
mod appeals;
mod assignments;
mod batches;
mod calculations;
mod charts;
mod cohorts;
mod competencies;
mod docs;
mod formulas;
mod grid;
mod handovers;
mod jars;
mod labels;
mod libraries;
mod long_work;
mod marks;
mod materials;
mod moderation;
mod observations;
mod paper;
mod people;
mod photographs;
mod phrases;
mod progress;
mod reactions;
mod recalls;
mod recipes;
mod revisions;
mod self_checks;
mod sessions;
mod stock;
mod work;

use crate::mount::Mount;

/// Every documented route. The OpenAPI document is made from this very list.
pub(crate) fn documented(config: &mut impl Mount) {
    config
        // The router tries one address after the other: what is read most is mounted first.
        .configure(recipes::routes)
        .configure(sessions::routes)
        .configure(people::routes)
        .configure(materials::routes)
        .configure(amendments::routes)
        .configure(libraries::routes)
        .configure(formulas::routes)
        .configure(revisions::routes)
        .configure(batches::routes)
        .configure(long_work::routes)
        .configure(handovers::routes)
        .configure(jars::routes)
        .configure(observations::routes)
        .configure(photographs::routes)
        .configure(labels::routes)
        .configure(paper::routes)
        .configure(stock::routes)
        .configure(recalls::routes)
        .configure(reactions::routes)
        .configure(calculations::routes)
        .configure(cohorts::routes)
        .configure(assignments::routes)
        .configure(work::routes)
        .configure(marks::routes)
        .configure(phrases::routes)
        .configure(grid::routes)
        .configure(progress::routes)
        .configure(charts::routes)
        .configure(competencies::routes)
        .configure(appeals::routes)
        .configure(moderation::routes)
        .configure(self_checks::routes)
        .configure(docs::routes);
}
