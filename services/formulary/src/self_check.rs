//! A maker's own check of a formula before making it. The answers live as long as the request: nothing here writes, and no
//! error repeats them.

use diesel::QueryableByName;
use diesel::sql_types::{BigInt, Bool, Integer, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use judgement::audience::{self, Asked};
use materia::Materia;
use store::{Credentials, Error, Result, Store, Tx};
use uuid::Uuid;
use wire::ids::{FormulaId, RevisionId};
use wire::safety::{AudienceSuits, Caution, CautionLevel, CautionSet};
use wire::self_check::{NewSelfCheck, SelfCheck, Substitute};

use crate::cautions;
use crate::facts::{Facts, visible};
use crate::sets::{self, SetKey};

/// The most answers, formulas that are looked at, and substitutes.
const MOST: (usize, i64, usize) = (40, 100, 10);

/// What is true of some makers and no allergy, as it is answered and as audiences are called.
const OTHERS: [(&str, &str); 3] =
    [("pregnant", "pregnant"), ("breast-feeding", "breast-feeding"), ("asthma", "condition:asthma")];

/// Airways that dust sets off: no audience, but two cautions that every maker is given.
const POWDERS: &str = "powders";
const OF_DUST: [&str; 2] = ["powder-dust", "cayenne-handling"];

const ASK: &str = "Ask a doctor or midwife before you make it. This is no diagnosis.";

/// One thing that is true of the maker.
enum Answer {
    Of(Asked),
    Powders,
}

impl Answer {
    fn is_meant(&self, caution: &Caution) -> bool {
        match self {
            Self::Of(asked) => asked.is_meant(caution),
            Self::Powders => OF_DUST.contains(&caution.key.as_str()),
        }
    }

    /// The answer that a set gives, with what was not judged.
    fn of(&self, set: &CautionSet) -> (AudienceSuits, Vec<String>) {
        match self {
            Self::Of(asked) => {
                let audience::Answered { answer, missing } = audience::answer(asked, set);
                (answer, missing)
            }
            Self::Powders => {
                let missing = audience::not_judged(set);
                let unknown = (!missing.is_empty()).then_some(AudienceSuits::NotKnown);
                let said = set.cautions.iter().filter_map(|caution| match caution.level {
                    CautionLevel::Stop => Some(AudienceSuits::Stop),
                    _ => self.is_meant(caution).then_some(AudienceSuits::WithCare),
                });
                (audience::gravest(said.chain(unknown)), missing)
            }
        }
    }
}

/// What can be answered: each word with its name in the reference data, which only an allergy has.
#[must_use]
pub fn self_check_choices(reference: &Materia) -> Vec<(String, Option<String>)> {
    let others = OTHERS.iter().map(|(word, _)| *word).chain([POWDERS]).map(|word| (word.to_owned(), None));
    let groups = &reference.allergy_groups;
    let allergies = groups.iter().map(|group| (format!("allergy:{}", group.key), Some(group.name.clone())));
    others.chain(allergies).collect()
}

fn read(reference: &Materia, request: &NewSelfCheck) -> Result<Vec<Answer>> {
    let known: Vec<String> = self_check_choices(reference).into_iter().map(|(word, _)| word).collect();
    // None of the words that were sent is repeated.
    let refused = || Error::field("/answers", format!("Send 1 to {} of: {}.", MOST.0, known.join(", ")));
    let sent = &request.answers;
    if sent.is_empty() || sent.len() > MOST.0 || sent.iter().any(|word| !known.contains(word)) {
        return Err(refused());
    }
    let answer = |word: &String| {
        let audience =
            OTHERS.iter().find(|(one, _)| one == word).map_or(word.as_str(), |(_, audience)| audience);
        match audience {
            POWDERS => Ok(Answer::Powders),
            _ => Asked::parse(reference, audience, "/answers").map(Answer::Of).map_err(|_| refused()),
        }
    };
    sent.iter().map(answer).collect()
}

/// What the cautions of a revision say to its maker, and which formulas carry none of it. Six statements.
///
/// # Errors
/// Returns [`Error::NotFound`] if the caller may not see the revision, [`Error::Forbidden`] for an API client, and
/// [`Error::Invalid`] for an answer that is none.
pub async fn self_check(
    store: &Store,
    credentials: &Credentials,
    id: RevisionId,
    request: &NewSelfCheck,
) -> Result<SelfCheck> {
    store
        .read(credentials, async |tx| {
            tx.person()?;
            let answers = read(tx.reference, request)?;
            let facts = visible(tx, id).await?;
            let set = cautions::of(tx, &facts).await?;
            let (mut suits, mut missing) = (Vec::new(), Vec::new());
            for answer in &answers {
                let (answer, lacks) = answer.of(&set);
                suits.push(answer);
                missing.extend(lacks);
            }
            missing.sort_unstable();
            missing.dedup();
            let answer = audience::gravest(suits);
            let concerned = |caution: &Caution| answers.iter().any(|answer| answer.is_meant(caution));
            let mut concerns: Vec<Caution> = set.cautions.into_iter().filter(concerned).collect();
            concerns.sort_by_key(|caution| std::cmp::Reverse(caution.level));
            Ok(SelfCheck {
                revision: id,
                answer,
                sentence: audience::sentence(answer).to_owned(),
                ask: ASK.to_owned(),
                concerns,
                missing,
                substitutes: substitutes(tx, &facts, &answers).await?,
                notice: set.notice,
                title: facts.title,
            })
        })
        .await
}

#[derive(QueryableByName)]
struct Other {
    #[diesel(sql_type = SqlUuid)]
    formula: Uuid,
    #[diesel(sql_type = SqlUuid)]
    revision: Uuid,
    #[diesel(sql_type = Integer)]
    set_number: i32,
    #[diesel(sql_type = Text)]
    title: String,
    #[diesel(sql_type = Text)]
    library: String,
    #[diesel(sql_type = Bool)]
    may_choose: bool,
}

/// Approved formulas of the caller's libraries of which everything was judged and nothing is meant for the caller. What
/// would stand in their way is for others to know: only those without any of it are told.
async fn substitutes(tx: &mut Tx<'_>, facts: &Facts, answers: &[Answer]) -> Result<Vec<Substitute>> {
    let me = tx.person()?.id.0;
    let others: Vec<Other> = diesel::sql_query(
        "SELECT f.id AS formula, g.revision_id AS revision, g.set_number, f.title, l.name AS library, o.both AS may_choose
         FROM library_member m JOIN library l ON l.id = m.library_id JOIN formula f ON f.library_id = l.id
         JOIN gate g ON g.revision_id = f.approved_revision_id
         CROSS JOIN LATERAL (SELECT offers_both($1, $2, f.id) AS both) o
         WHERE m.holder_id = $1 AND f.id <> $2
         ORDER BY o.both DESC, f.preparation = $3 DESC, f.title COLLATE \"C\", f.id LIMIT $4",
    )
    .bind::<SqlUuid, _>(me)
    .bind::<SqlUuid, _>(facts.formula.0)
    .bind::<Text, _>(&facts.preparation)
    .bind::<BigInt, _>(MOST.1)
    .load(tx.conn())
    .await?;
    let keys: Vec<SetKey> = others.iter().map(|one| (RevisionId(one.revision), one.set_number)).collect();
    let sets = sets::all_numbered(tx, &keys).await?;
    let carries_none = |set: &CautionSet| {
        answers.iter().all(|answer| answer.of(set).0 == AudienceSuits::NothingKnownAgainst)
            && set.looked_at.is_some()
    };
    let fits = |one: &Other| sets.get(&(RevisionId(one.revision), one.set_number)).is_some_and(carries_none);
    let told = |one: Other| Substitute {
        formula: FormulaId(one.formula),
        revision: RevisionId(one.revision),
        title: one.title,
        library_name: one.library,
        may_choose: one.may_choose,
    };
    Ok(others.into_iter().filter(fits).take(MOST.2).map(told).collect())
}

#[cfg(test)]
mod tests {
    use serde_json::{Value, json};

    use super::*;

    fn set(looked_at: Value) -> CautionSet {
        let example = json!({ "revision": Uuid::nil(), "digest": "0".repeat(64), "cautions": [], "notice": "",
            "looked_at": looked_at });
        serde_json::from_value(example).unwrap()
    }

    #[test]
    fn of_dust_too_nothing_is_known_where_an_ingredient_was_not_judged() {
        let all = set(json!({ "judged": ["olive oil"], "not_judged": [] }));
        assert_eq!(Answer::Powders.of(&all), (AudienceSuits::NothingKnownAgainst, Vec::new()));
        for lacking in [set(json!({ "judged": [], "not_judged": ["orris root"] })), set(Value::Null)] {
            let (answer, missing) = Answer::Powders.of(&lacking);
            assert_eq!((answer, missing.len()), (AudienceSuits::NotKnown, 1), "{missing:?}");
        }
    }
}
