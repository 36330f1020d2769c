//! The labels of jars: the label of their batch, with what each jar holds and its own last day.

use chrono::NaiveDate;
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use recipes::RecipeCache;
use schema::{jar, jar_decanting, jar_filling, retained_sample};
use store::{Credentials, Error, Result, Store, Tx};
use uuid::Uuid;
use wire::ids::BatchId;
use wire::jars::{JarLabels, LabelledJar};
use wire::label::BatchLabelQuery;

use crate::batches;
use crate::label::{Jar, labelled_as};

/// The most labels in one document.
const MOST: usize = 500;

/// What was filled: how much, until when it keeps, and whether it is kept as a sample.
type Filled = (String, Option<NaiveDate>, bool);

/// What stands on jars of a batch, by how they were filled. `area` is that of a label; `numbers` are ranges with their ends,
/// and none of them means every jar.
///
/// # Errors
/// As [`label`](crate::label()). Returns [`Error::State`] where no jar is filled, and [`Error::Invalid`] for numbers of jars
/// that there are not, and for more than 500.
pub async fn jar_labels(
    store: &Store,
    cache: &RecipeCache,
    credentials: &Credentials,
    id: BatchId,
    area: &str,
    numbers: &[(u32, u32)],
) -> Result<Vec<JarLabels>> {
    store
        .read(credentials, async |tx| {
            let record = batches::access_for_label(tx, id).await?;
            let mut groups: Vec<(Filled, Vec<LabelledJar>)> = Vec::new();
            for (filled, jar) in chosen(all(tx, id).await?, numbers)? {
                match groups.iter_mut().find(|(group, _)| *group == filled) {
                    Some((_, jars)) => jars.push(jar),
                    None => groups.push((filled, vec![jar])),
                }
            }
            let mut labels = Vec::new();
            for ((fill, until, sample), jars) in groups {
                let query = BatchLabelQuery { net: Some(fill), area: Some(area.to_owned()) };
                let no_later = until.map(|day| (day, "chosen when the jar was filled".to_owned()));
                let of = Jar { no_later, sample };
                let label = labelled_as(tx, cache, &record, &query, of).await?.label;
                labels.push(JarLabels { label, jars });
            }
            Ok(labels)
        })
        .await
}

/// A jar as it is stored: number, code, fill, last day, and its own id where it is a sample.
type Row = (i32, String, String, Option<NaiveDate>, Option<Uuid>);

/// The jars of a batch, by their numbers.
async fn all(tx: &mut Tx<'_>, id: BatchId) -> Result<Vec<(Filled, LabelledJar)>> {
    let rows: Vec<Row> = jar::table
        .inner_join(jar_filling::table.on(jar_filling::id.eq(jar::filling_id)))
        .left_join(retained_sample::table.on(retained_sample::jar_id.eq(jar::id)))
        .left_join(jar_decanting::table.on(jar_decanting::jar_id.eq(jar::id)))
        .filter(jar::batch_id.eq(id.0))
        // Nobody labels an empty jar.
        .filter(jar_decanting::jar_id.is_null())
        .order(jar::number)
        .select((
            jar::number,
            jar::token,
            jar_filling::fill,
            jar_filling::use_by,
            retained_sample::jar_id.nullable(),
        ))
        .load(tx.conn())
        .await?;
    let of = |(number, code, fill, until, sample): Row| {
        let page = format!("/jars/{code}");
        ((fill, until, sample.is_some()), LabelledJar { number: number.unsigned_abs(), code, page })
    };
    Ok(rows.into_iter().map(of).collect())
}

fn chosen(all: Vec<(Filled, LabelledJar)>, numbers: &[(u32, u32)]) -> Result<Vec<(Filled, LabelledJar)>> {
    let last = all.last().map(|(_, jar)| jar.number);
    let Some(last) = last else {
        let cure = "No jar of this batch is filled. Fill its jars first, or print the label of the batch.";
        return Err(Error::state("unfilled", cure));
    };
    if numbers.iter().any(|(_, to)| *to > last) {
        let cure = format!("The batch has jars 1 to {last}. Enter numbers of these.");
        return Err(Error::field("?jars", cure));
    }
    let meant = |number: u32| numbers.iter().any(|(from, to)| (*from..=*to).contains(&number));
    let jars: Vec<_> = all.into_iter().filter(|(_, jar)| numbers.is_empty() || meant(jar.number)).collect();
    if jars.is_empty() {
        let cure = "These jars are empty: their content was filled into others. Enter numbers of those.";
        return Err(Error::field("?jars", cure));
    }
    if jars.len() > MOST {
        let cure = format!("At most {MOST} labels are printed in one go. Enter numbers, such as 1-{MOST}.");
        return Err(Error::field("?jars", cure));
    }
    Ok(jars)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn jars(many: u32) -> Vec<(Filled, LabelledJar)> {
        let jar = |number| LabelledJar { number, code: String::new(), page: String::new() };
        (1..=many).map(|number| (("30 g".to_owned(), None, false), jar(number))).collect()
    }

    fn numbers(found: Result<Vec<(Filled, LabelledJar)>>) -> Vec<u32> {
        found.unwrap().into_iter().map(|(_, jar)| jar.number).collect()
    }

    #[test]
    fn each_jar_that_is_meant_is_labelled_once() {
        assert_eq!(numbers(chosen(jars(4), &[])), [1, 2, 3, 4]);
        assert_eq!(numbers(chosen(jars(9), &[(7, 9), (2, 3), (3, 4)])), [2, 3, 4, 7, 8, 9]);
        assert!(matches!(chosen(jars(4), &[(4, 5)]), Err(Error::Invalid(_))));
        assert!(matches!(chosen(jars(0), &[]), Err(Error::State { .. })));
        assert!(matches!(chosen(jars(501), &[]), Err(Error::Invalid(_))));
        assert_eq!(numbers(chosen(jars(501), &[(501, 501)])), [501]);
    }
}
