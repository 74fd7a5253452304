//! Roles: what somebody is signed in as, and the whole table of what each may do as text.

use std::fmt::Write;

use crate::{
    refusal::{Code, Refusal},
    roles::MATRIX,
    text_enum::text_enum,
};

text_enum! {
    /// What a person or a device is signed in as. One person may hold several.
    pub enum Role {
        /// Runs the day: sees the whole of it and sets it up, but signs no attempt and writes no permission.
        Coordinator = "coordinator",
        /// Checks people in and asks the six questions.
        CheckIn = "check_in",
        /// Screens and tests at a station.
        Tester = "tester",
        /// Keeps lots, bottles and fills; sees no person and no result.
        Storekeeper = "storekeeper",
        /// Prints and ends badges.
        BadgeDesk = "badge_desk",
        /// A gate: scans, and nothing else.
        Gate = "gate",
        /// Leads the guards: sees how many, and no person.
        GateLead = "gate_lead",
        /// A licensed clinician: decides on permissions.
        Clinician = "clinician",
        /// Reads whatever bears on a record, and changes nothing.
        Auditor = "auditor",
        /// Sets up users, devices, the site and what it uses; sees no result.
        Admin = "admin",
    }
}

/// Roles in one order and each once, so that a list that names them differently is the same list.
///
/// # Errors
/// `invalid_value` for the field `roles` when there is none.
pub fn each_once(roles: &[Role]) -> Result<Vec<Role>, Refusal> {
    if roles.is_empty() {
        let sentence = "Give at least one role; to shut somebody out, close the account.";
        return Err(Refusal::new(Code::InvalidValue, sentence).field("roles"));
    }
    Ok(Role::ALL.iter().copied().filter(|role| roles.contains(role)).collect())
}

/// The whole matrix as aligned text, one operation a line and one column a role, for people and for a golden file.
pub fn matrix_as_text() -> String {
    let width = MATRIX.iter().map(|(operation, _)| operation.as_str().len()).max().unwrap_or(0);
    let mut text = format!("{:width$}", "operation");
    for role in Role::ALL {
        text.push(' ');
        text.push_str(role.as_str());
    }
    text.push('\n');
    for (operation, roles) in MATRIX {
        let mut line = format!("{:width$}", operation.as_str());
        for role in Role::ALL {
            let mark = if roles.contains(role) { "yes" } else { "-" };
            // Writing to a String cannot fail.
            let _ = write!(line, " {mark:column$}", column = role.as_str().len());
        }
        text.push_str(line.trim_end());
        text.push('\n');
    }
    text
}
