//! The facepiece of an attempt by its lot, where somebody named it.

use chrono::NaiveDate;
use diesel::PgConnection;
use sellion_rules::refusal::{Code, Refusal};
use uuid::Uuid;

use crate::{
    StoreError,
    lot::{self, Lot},
};

/// How the lot of a facepiece is named.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum NamedFacepiece {
    /// By its id.
    Lot(Uuid),
    /// By what a scanner read from the box or the wrapping.
    Label {
        /// The lot number.
        lot_number: String,
        /// The trade item number, where the label has one.
        gtin: Option<String>,
    },
}

/// The lot that is named, with whether it is stopped; refused where it is of another respirator, or not known.
pub(super) fn named(
    conn: &mut PgConnection,
    site_id: Uuid,
    respirator_id: Uuid,
    facepiece: Option<&NamedFacepiece>,
) -> Result<Option<(Lot, bool)>, StoreError> {
    let refused = |field: &'static str, sentence: String| {
        Err(StoreError::from(Refusal::new(Code::InvalidValue, sentence).field(field)))
    };
    match facepiece {
        None => Ok(None),
        Some(NamedFacepiece::Lot(id)) => {
            let found = lot::find(conn, site_id, *id)?;
            if found.0.respirator_id != Some(respirator_id) {
                let sentence = "This lot is not one of this respirator: look at the wrapping.";
                return refused("facepiece_lot_id", sentence.to_owned());
            }
            Ok(Some(found))
        }
        Some(NamedFacepiece::Label { lot_number, gtin }) => {
            let mut found = lot::numbered(conn, site_id, lot_number, gtin.as_deref())?;
            found.retain(|(lot, _)| lot.respirator_id == Some(respirator_id));
            if found.len() > 1 {
                let sentence =
                    format!("Several makers have a lot {lot_number} of it here: name the lot itself.");
                return refused("facepiece_label", sentence);
            }
            match found.pop() {
                Some(found) => Ok(Some(found)),
                None => {
                    let sentence = format!(
                        "No lot {lot_number} of this respirator was received: look at the wrapping, or leave the lot \
                         out."
                    );
                    refused("facepiece_label", sentence)
                }
            }
        }
    }
}

/// Refuses a facepiece of a stopped lot, where that could be known, and one that is out of date.
pub(super) fn usable(
    (lot, stopped): &(Lot, bool),
    today: NaiveDate,
    in_reach: bool,
) -> Result<(), StoreError> {
    if *stopped && in_reach {
        let sentence = "The lot of this facepiece is stopped: take one of another lot.";
        return Err(Refusal::new(Code::LotStopped, sentence).field("facepiece_lot_id").into());
    }
    if let Some(last_day) = lot.expires_on.filter(|last_day| *last_day < today) {
        let sentence = format!("This facepiece expired after {last_day}: take another one.");
        let refusal = Refusal::new(Code::BottleExpired, sentence).field("facepiece_lot_id");
        return Err(refusal.fact("last_day", last_day.to_string()).into());
    }
    Ok(())
}
