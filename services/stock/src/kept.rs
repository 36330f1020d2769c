//! What the journal vouches for of lots.

use store::columns;
use store::journal::{Kept, Key};

/// Lots.
pub static LOT: Kept = Kept::whole(
    "lot",
    &[Key("id", "uuid")],
    columns!(
        Text(id number material_id state supplier supplier_lot received_on expires opened_on keeps_until keeps_rule
        amount converted_by price currency price_per_gram assay certificate collector site collected_on version
        last_decision received_by batch_id revision_id) Time(received_at)
    ),
);

/// What was decided of lots, with checks of identity.
pub static DECISION: Kept = Kept::whole(
    "lot_decision",
    &[Key("id", "uuid")],
    columns!(
        Text(id lot_id number decision species part condition organoleptic look_alikes foreign_matter loss_on_drying
        reason by_id own_decision) Time(at)
    ),
);

/// Movements.
pub static MOVEMENT: Kept = Kept::whole(
    "lot_movement",
    &[Key("id", "uuid")],
    columns!(Text(id lot_id number kind grams counted batch_id entry_id reason by_id) Time(at)),
);

/// What is left, as the last movement left it.
pub static BALANCE: Kept =
    Kept::whole("lot_balance", &[Key("lot_id", "uuid")], columns!(Text(lot_id on_hand last_movement)));

/// Thresholds of running low.
pub static THRESHOLD: Kept = Kept::whole(
    "stock_threshold",
    &[Key("material_id", "uuid")],
    columns!(Text(material_id least grams version set_by) Time(set_at)),
);

/// All of them.
pub static KEPT: &[&Kept] = &[&LOT, &DECISION, &MOVEMENT, &BALANCE, &THRESHOLD];
