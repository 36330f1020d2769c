//! The clinic that is read from: its students sign in, a recipe that is open to one of them, and the long list.

use std::io::{Error, Result};
use std::net::SocketAddr;
use std::time::{Duration, Instant};

use serde_json::{Value, json};

use crate::http::{self, Connection};

/// Somebody with a password, out of what the demo printed.
#[derive(Clone)]
pub(crate) struct Account {
    pub(crate) name: String,
    pub(crate) password: String,
}

/// The accounts that the demo printed.
pub(crate) struct Accounts {
    pub(crate) administrator: Account,
    pub(crate) instructor: Account,
    /// Everybody, to sign in beside what is measured.
    pub(crate) all: Vec<Account>,
}

/// The demo's accounts, out of lines with a name, a role and a password.
pub(crate) fn accounts(demo: &str) -> Option<Accounts> {
    let (mut administrator, mut instructor, mut all) = (None, None, Vec::new());
    for line in demo.lines() {
        let words: Vec<&str> = line.split_whitespace().collect();
        let [name, role @ ("student" | "instructor" | "administrator"), password] = words.as_slice() else {
            continue;
        };
        let account = Account { name: (*name).to_owned(), password: (*password).to_owned() };
        match *role {
            "administrator" => administrator = administrator.or(Some(account.clone())),
            "instructor" => instructor = instructor.or(Some(account.clone())),
            _ => {}
        }
        all.push(account);
    }
    Some(Accounts { administrator: administrator?, instructor: instructor?, all })
}

impl Account {
    /// The request that signs this account in.
    pub(crate) fn sign_in(&self, address: SocketAddr) -> Vec<u8> {
        let body = json!({ "sign_in_name": self.name, "password": self.password });
        http::post(address, "/v1/sessions", &body)
    }
}

/// Sends one request and reads the JSON of its answer, if that has the status.
async fn ask(connection: &mut Connection, request: &[u8], expected: u16) -> Result<Option<Value>> {
    let answer = connection.exchange(request).await?;
    if answer.status != expected {
        return Ok(None);
    }
    Ok(Some(serde_json::from_slice(answer.body)?))
}

/// The bytes of a recipe, to see that two services answer the same.
pub(crate) async fn bytes(address: SocketAddr, path: &str, token: &str) -> Result<Vec<u8>> {
    let mut connection = Connection::open(address).await?;
    Ok(connection.exchange(&http::get(address, path, token)).await?.body.to_vec())
}

/// How long the first and a deep page take, by turns on one connection: (first, deep).
///
/// # Errors
/// When the list ends before the deep page.
pub(crate) async fn pages(
    address: SocketAddr,
    token: &str,
    deep: usize,
    times: usize,
) -> Result<Vec<(Duration, Duration)>> {
    let mut connection = Connection::open(address).await?;
    let mut path = "/v1/formulas".to_owned();
    let first = http::get(address, &path, token);
    for _ in 1..deep {
        let page = ask(&mut connection, &http::get(address, &path, token), 200).await?;
        let next = page.as_ref().and_then(|page| page["next"].as_str());
        path = format!("/v1/formulas?after={}", next.ok_or_else(|| Error::other("the list is too short"))?);
    }
    let deep = http::get(address, &path, token);
    let mut taken = Vec::new();
    for _ in 0..times {
        let mut each = [Duration::ZERO; 2];
        for (request, taken) in [&first, &deep].into_iter().zip(&mut each) {
            let begun = Instant::now();
            if connection.exchange(request).await?.status != 200 {
                return Err(Error::other("a page was refused"));
            }
            *taken = begun.elapsed();
        }
        taken.push((each[0], each[1]));
    }
    Ok(taken)
}

/// How long the first page of the markers' queue takes in the cohort with a thousand submissions and in the one with a
/// million, by turns on one connection.
///
/// # Errors
/// When one of the cohorts is missing, or its first page is not full.
pub(crate) async fn queues(
    address: SocketAddr,
    instructor: &Account,
    times: usize,
) -> Result<Vec<(Duration, Duration)>> {
    let mut connection = Connection::open(address).await?;
    let signed_in = ask(&mut connection, &instructor.sign_in(address), 201).await?;
    let token = signed_in.as_ref().and_then(|tokens| tokens["access_token"].as_str());
    let token = token.ok_or_else(|| Error::other("the instructor cannot sign in"))?.to_owned();
    let cohorts = ask(&mut connection, &http::get(address, "/v1/cohorts?limit=100", &token), 200).await?;
    let mut requests = Vec::new();
    for name in ["A thousand submissions", "A million submissions"] {
        let found = cohorts.iter().filter_map(|list| list["items"].as_array()).flatten();
        let id =
            found.into_iter().find(|cohort| cohort["name"] == name).and_then(|cohort| cohort["id"].as_str());
        let id = id.ok_or_else(|| Error::other("a cohort with many submissions is missing"))?;
        let request = http::get(address, &format!("/v1/submissions?cohort={id}"), &token);
        let page = ask(&mut connection, &request, 200).await?;
        if page.as_ref().and_then(|page| page["next"].as_str()).is_none() {
            return Err(Error::other("the first page of the queue is not full"));
        }
        requests.push(request);
    }
    let mut taken = Vec::new();
    for _ in 0..times {
        let mut each = [Duration::ZERO; 2];
        for (request, taken) in requests.iter().zip(&mut each) {
            let begun = Instant::now();
            if connection.exchange(request).await?.status != 200 {
                return Err(Error::other("a page of the queue was refused"));
            }
            *taken = begun.elapsed();
        }
        taken.push((each[0], each[1]));
    }
    Ok(taken)
}

/// How long it takes to trace a lot to everything that was made of it, and one of these batches back to every lot: of another of
/// the 20,000 families each time.
///
/// # Errors
/// When a trace does not reach what the family holds.
pub(crate) async fn traces(
    address: SocketAddr,
    instructor: &Account,
    times: usize,
) -> Result<Vec<(Duration, Duration)>> {
    let mut connection = Connection::open(address).await?;
    let signed_in = ask(&mut connection, &instructor.sign_in(address), 201).await?;
    let token = signed_in.as_ref().and_then(|tokens| tokens["access_token"].as_str());
    let token = token.ok_or_else(|| Error::other("the instructor cannot sign in"))?.to_owned();
    let mut taken = Vec::new();
    for turn in 0..times {
        // Far apart, so that no trace finds the pages of the one before it in memory.
        let lot = format!("00000000-0000-4000-8000-{:012x}", turn * 7919 % 20_000);
        let mut traced = async |path: String, places: usize| -> Result<(Duration, String)> {
            let begun = Instant::now();
            let found = ask(&mut connection, &http::get(address, &path, &token), 200).await?;
            let took = begun.elapsed();
            let nodes = found.as_ref().and_then(|trace| trace["nodes"].as_array());
            let last =
                nodes.filter(|nodes| nodes.len() == places).and_then(|nodes| nodes.last()?["id"].as_str());
            let last = last.ok_or_else(|| Error::other(format!("{path} does not reach {places} places")))?;
            Ok((took, last.to_owned()))
        };
        // Fifty batches and sixteen lots; back from the fifth generation, five of each.
        let (onward, leaf) = traced(format!("/v1/lots/{lot}/trace"), 66).await?;
        let (back, _) = traced(format!("/v1/batches/{leaf}/trace"), 10).await?;
        taken.push((onward, back));
    }
    Ok(taken)
}

/// How long a search for a misspelt name takes among the materials, in seconds, each time it is asked.
pub(crate) async fn searches(address: SocketAddr, token: &str, times: usize) -> Result<Vec<f64>> {
    let mut connection = Connection::open(address).await?;
    let request = http::get(address, "/v1/materials?search=calandula%20oficinalis", token);
    let found = ask(&mut connection, &request, 200).await?;
    if found.as_ref().and_then(|found| found["items"].as_array()).is_none_or(Vec::is_empty) {
        return Err(Error::other("the search found nothing"));
    }
    let mut taken = Vec::new();
    for _ in 0..times {
        let begun = Instant::now();
        if connection.exchange(&request).await?.status != 200 {
            return Err(Error::other("a search was refused"));
        }
        taken.push(begun.elapsed().as_secs_f64());
    }
    Ok(taken)
}

#[cfg(test)]
mod tests {
    #[test]
    fn somebody_of_each_role_is_found_and_everybody_signs_in() {
        let demo = "Demo accounts (shown once):\n  a.b  administrator  x-1\n  c.d  student  y-2\n  e.f  instructor  z-3\n";
        let accounts = super::accounts(demo).unwrap();
        assert_eq!(
            (accounts.administrator.name.as_str(), accounts.instructor.password.as_str()),
            ("a.b", "z-3")
        );
        assert_eq!(accounts.all.len(), 3);
        assert!(super::accounts("nothing").is_none());
    }
}
