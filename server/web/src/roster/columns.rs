//! Which column of a roster file is taken for what.

use std::collections::BTreeMap;

use csv::StringRecord;
use sellion_rules::refusal::{Code, Refusal};
use serde::Deserialize;
use utoipa::IntoParams;

use crate::words::is_hidden;

/// Which column of the file holds what, where its header is not one the program knows.
#[derive(Debug, Clone, Default, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct ColumnsQuery {
    /// The header of the column of staff numbers.
    #[param(example = "Personalnr")]
    staff_number: Option<String>,
    /// The header of the column of given names.
    #[param(example = "Vorname")]
    given_name: Option<String>,
    /// The header of the column of family names.
    #[param(example = "Nachname")]
    family_name: Option<String>,
    /// The header of the column of birth dates; the file may have none.
    birth_date: Option<String>,
    /// The header of the column of wards or departments; the file may have none.
    unit: Option<String>,
    /// The header of the column of last days; the file may have none.
    left_on: Option<String>,
}

/// What a roster can say of a person.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Field {
    StaffNumber,
    GivenName,
    FamilyName,
    BirthDate,
    Unit,
    LeftOn,
}

impl Field {
    const ALL: [Self; 6] =
        [Self::StaffNumber, Self::GivenName, Self::FamilyName, Self::BirthDate, Self::Unit, Self::LeftOn];

    fn name(self) -> &'static str {
        match self {
            Self::StaffNumber => "staff_number",
            Self::GivenName => "given_name",
            Self::FamilyName => "family_name",
            Self::BirthDate => "birth_date",
            Self::Unit => "unit",
            Self::LeftOn => "left_on",
        }
    }

    fn is_needed(self) -> bool {
        matches!(self, Self::StaffNumber | Self::GivenName | Self::FamilyName)
    }

    /// Headers that payroll programs are known to write, in the form of [`plain`], with spaces between them.
    fn headers(self) -> &'static str {
        match self {
            Self::StaffNumber => {
                "staffnumber staffno staffnr staffid employeenumber employeeno employeeid personnelnumber \
                 personnelno payrollnumber payrollno personalnummer personalnr matricule matricola \
                 númerodeempleado numerodeempleado numeroempleado"
            }
            Self::GivenName => {
                "givenname givennames firstname forename forenames vorname prénom prenom nombre nome"
            }
            Self::FamilyName => {
                "familyname lastname surname nachname familienname nom nomdefamille apellido apellidos cognome"
            }
            Self::BirthDate => {
                "birthdate dateofbirth dob born birthday geburtsdatum geburtstag datedenaissance \
                 fechadenacimiento datadinascita"
            }
            Self::Unit => {
                "unit ward department dept team abteilung station einheit service unité unidad servicio reparto"
            }
            Self::LeftOn => {
                "lefton leavingdate leavedate lastday lastworkingday enddate terminationdate austritt \
                 austrittsdatum datededépart fechadebaja"
            }
        }
    }

    fn told(self, query: &ColumnsQuery) -> Option<&str> {
        match self {
            Self::StaffNumber => query.staff_number.as_deref(),
            Self::GivenName => query.given_name.as_deref(),
            Self::FamilyName => query.family_name.as_deref(),
            Self::BirthDate => query.birth_date.as_deref(),
            Self::Unit => query.unit.as_deref(),
            Self::LeftOn => query.left_on.as_deref(),
        }
    }
}

/// The columns of one file.
#[derive(Debug)]
pub(super) struct Columns {
    header: Vec<String>,
    places: [Option<usize>; Field::ALL.len()],
}

impl Columns {
    /// Finds every column in the header, or says which is missing and what there is.
    pub(super) fn find(header: &StringRecord, query: &ColumnsQuery) -> Result<Self, Refusal> {
        let header: Vec<String> = header.iter().map(seen).collect();
        let mut places = [None; Field::ALL.len()];
        for field in Field::ALL {
            places[field as usize] = place(field, &header, field.told(query))?;
        }
        Ok(Self { header, places })
    }

    /// Cells that each line must have.
    pub(super) fn count(&self) -> usize {
        self.header.len()
    }

    pub(super) fn has(&self, field: Field) -> bool {
        self.places[field as usize].is_some()
    }

    /// The header of a column, for the problems in it.
    pub(super) fn header_of(&self, field: Field) -> Option<&str> {
        self.places[field as usize].and_then(|place| self.header.get(place)).map(String::as_str)
    }

    /// A line's cell without the spaces around it; empty where the file has no such column.
    pub(super) fn cell<'r>(&self, record: &'r StringRecord, field: Field) -> &'r str {
        self.places[field as usize].and_then(|place| record.get(place)).unwrap_or_default().trim()
    }

    /// Whether a line is the header once more.
    pub(super) fn is_header(&self, record: &StringRecord) -> bool {
        record.iter().map(seen).eq(self.header.iter().cloned())
    }

    /// Which header was taken for what.
    pub(super) fn taken(&self) -> BTreeMap<&'static str, String> {
        let named = |field: Field| Some((field.name(), self.header_of(field)?.to_owned()));
        Field::ALL.into_iter().filter_map(named).collect()
    }
}

fn place(field: Field, header: &[String], told: Option<&str>) -> Result<Option<usize>, Refusal> {
    let means = |name: &String| match told {
        Some(told) => plain(name) == plain(told),
        None => field.headers().split(' ').any(|header| header == plain(name)),
    };
    let mut found = header.iter().enumerate().filter(|(_, name)| means(name)).map(|(place, _)| place);
    let first = found.next();
    if found.next().is_some() {
        let sentence =
            format!("More than one column could be the {}: name the one that is meant.", field.name());
        return Err(missing(field, header, sentence));
    }
    if first.is_none() && (told.is_some() || field.is_needed()) {
        let sentence = match told {
            Some(told) => format!("The first line has no column \"{told}\"."),
            None => format!("The first line has no column known as the {}: name it.", field.name()),
        };
        return Err(missing(field, header, sentence));
    }
    Ok(first)
}

fn missing(field: Field, header: &[String], sentence: String) -> Refusal {
    Refusal::new(Code::RosterColumnMissing, sentence).field(field.name()).fact("columns", header.join(" | "))
}

/// A header as a reader sees it: what hides in it must not travel on into what is stored about the file.
fn seen(name: &str) -> String {
    name.chars().filter(|c| !is_hidden(*c)).collect::<String>().trim().to_owned()
}

/// A header without case, spaces, points or dashes.
fn plain(name: &str) -> String {
    name.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_lowercase).collect()
}
