//! A caution set that another transaction holds as it is, acknowledged in this one.

use release::CurrentSet;
use release::acknowledgements::{NewAcknowledgement, Party, acknowledge};
use store::{Result, Tx};

async fn mixed<'a, 'b>(
    tx: &mut Tx<'a>,
    set: &CurrentSet<'b>,
    party: &Party<'a>,
    new: &NewAcknowledgement<'_>,
) -> Result<()> {
    acknowledge(tx, set, party, new).await.map(drop)
}

fn main() {}
