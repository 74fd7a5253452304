//! Which cell of a file of readings means what, as a person has chosen it.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use crate::fit_factor::Basis;
use crate::refusal::{Code, Refusal};
use crate::text::{self, SHORT};
use crate::text_enum::text_enum;

/// Entries of the lists of a mapping at most; no protocol has nearly as many measurements.
pub(super) const ENTRIES_MAX: usize = 100;

text_enum! {
    /// What separates the cells of a line.
    pub enum Delimiter {
        /// Whichever of the other three the header line has most of.
        FromFile = "from_file",
        /// A comma.
        Comma = "comma",
        /// A semicolon.
        Semicolon = "semicolon",
        /// A tab.
        Tab = "tab",
    }
}

text_enum! {
    /// What stands before the decimals of a number.
    pub enum DecimalMark {
        /// A point: 12.5.
        Point = "point",
        /// A comma: 12,5.
        Comma = "comma",
    }
}

/// A column of the file: by its number from 1, or by the text in the header line.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(untagged)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub enum Column {
    /// Its number, counted from 1.
    Number(u16),
    /// Its header, without the spaces around it.
    Header(String),
}

/// The columns that one measurement is in.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "basis", rename_all = "snake_case", deny_unknown_fields)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub enum ReadingColumns {
    /// A fit factor.
    FitFactor {
        /// The fit factor.
        fit_factor: Column,
    },
    /// Concentrations before, after and inside for each exercise.
    Each {
        /// Outside before the exercise.
        before: Column,
        /// Outside after the exercise.
        after: Column,
        /// Inside.
        inside: Column,
    },
    /// Mean concentrations during the exercise.
    Continuous {
        /// Outside.
        outside: Column,
        /// Inside.
        inside: Column,
    },
    /// The concentration inside alone.
    Inside {
        /// Inside.
        inside: Column,
    },
}

/// The columns of the concentrations outside, before and after the whole test.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct OutsideColumns {
    /// Before the test: of several lines, the first one's cell.
    pub before: Column,
    /// After the test: of several lines, the last one's cell.
    pub after: Column,
}

/// How a line says which exercise it belongs to.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "by", rename_all = "snake_case", deny_unknown_fields)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub enum ExerciseOf {
    /// A column holds its number or its name.
    Column {
        /// The column.
        column: Column,
        /// The names that stand for numbers; none or `null` for lines to be left out, such as that of the grimace.
        #[serde(default)]
        names: BTreeMap<String, Option<u8>>,
    },
    /// The lines stand in a known order.
    Order {
        /// The exercise of each line, `null` for a line to be left out.
        exercises: Vec<Option<u8>>,
    },
}

/// The measurement that a group of columns belongs to.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Measurement {
    /// The number of its exercise.
    pub exercise: u8,
    /// Its columns.
    pub columns: ReadingColumns,
}

/// What one line of the file is.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "rows", rename_all = "snake_case", deny_unknown_fields)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub enum Layout {
    /// One measurement.
    RowPerExercise {
        /// Which exercise it belongs to.
        exercise: ExerciseOf,
        /// Its columns.
        columns: ReadingColumns,
    },
    /// A whole test.
    RowPerTest {
        /// Its measurements, in order.
        measurements: Vec<Measurement>,
    },
}

/// How to read the files of one source: chosen once, and remembered under a name of the site's own.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Mapping {
    /// What separates the cells.
    #[serde(default = "from_file")]
    pub delimiter: Delimiter,
    /// What stands before the decimals.
    #[serde(default = "point")]
    pub decimal_mark: DecimalMark,
    /// The line that names the columns, counted from 1 as an editor counts; 0 where no line does. What stands above it
    /// is left alone.
    #[serde(default = "first_line")]
    pub header_line: u32,
    /// The column that says which test a line belongs to, where a file holds several.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub test: Option<Column>,
    /// The concentrations outside before and after the whole test, where the file has them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub outside: Option<OutsideColumns>,
    /// What one line is.
    pub layout: Layout,
}

fn from_file() -> Delimiter {
    Delimiter::FromFile
}

fn point() -> DecimalMark {
    DecimalMark::Point
}

fn first_line() -> u32 {
    1
}

impl ReadingColumns {
    /// What the measurement consists of.
    pub const fn basis(&self) -> Basis {
        match self {
            Self::FitFactor { .. } => Basis::FitFactor,
            Self::Each { .. } => Basis::Each,
            Self::Continuous { .. } => Basis::Continuous,
            Self::Inside { .. } => Basis::Inside,
        }
    }

    /// Its columns, each with the member of a reading that it holds.
    pub(super) fn all(&self) -> Vec<(&'static str, &Column)> {
        match self {
            Self::FitFactor { fit_factor } => vec![("fit_factor", fit_factor)],
            Self::Each { before, after, inside } => {
                vec![("before", before), ("after", after), ("inside", inside)]
            }
            Self::Continuous { outside, inside } => vec![("outside", outside), ("inside", inside)],
            Self::Inside { inside } => vec![("inside", inside)],
        }
    }
}

impl Layout {
    /// Every group of columns of a measurement.
    fn groups(&self) -> Vec<&ReadingColumns> {
        match self {
            Self::RowPerExercise { columns, .. } => vec![columns],
            Self::RowPerTest { measurements } => measurements.iter().map(|one| &one.columns).collect(),
        }
    }

    /// The column that names the exercise, where one does.
    fn exercise_column(&self) -> Option<&Column> {
        match self {
            Self::RowPerExercise { exercise: ExerciseOf::Column { column, .. }, .. } => Some(column),
            _ => None,
        }
    }

    /// Every exercise that the mapping names by number.
    fn exercises(&self) -> Vec<u8> {
        match self {
            Self::RowPerExercise { exercise: ExerciseOf::Column { names, .. }, .. } => {
                names.values().flatten().copied().collect()
            }
            Self::RowPerExercise { exercise: ExerciseOf::Order { exercises }, .. } => {
                exercises.iter().flatten().copied().collect()
            }
            Self::RowPerTest { measurements } => measurements.iter().map(|one| one.exercise).collect(),
        }
    }
}

impl Mapping {
    /// Whether it can be meant, apart from any file; to be asked before it is remembered.
    ///
    /// # Errors
    /// `invalid_value`, naming the member: a column without a name or with number 0, a header where no line names the
    /// columns, one column for two things, nothing to measure, too much of it, or two kinds of measurements.
    pub fn check(&self) -> Result<(), Refusal> {
        self.check_layout()?;
        let all = self.columns();
        all.iter().try_for_each(|column| self.check_column(column))?;
        // What is outside may stand in one column, which the first and the last line tell apart.
        let shared = matches!(self.layout, Layout::RowPerExercise { .. })
            && self.outside.as_ref().is_some_and(|outside| outside.before == outside.after);
        let distinct: BTreeSet<_> = all.iter().collect();
        if distinct.len() + usize::from(shared) != all.len() {
            return Err(wrong("columns", "One column is given two meanings: give each its own."));
        }
        Ok(())
    }

    /// Every column that the mapping names.
    pub(super) fn columns(&self) -> Vec<&Column> {
        let measured =
            self.layout.groups().into_iter().flat_map(|group| group.all()).map(|(_, column)| column);
        let outside = self.outside.iter().flat_map(|outside| [&outside.before, &outside.after]);
        self.test.iter().chain(self.layout.exercise_column()).chain(measured).chain(outside).collect()
    }

    fn check_column(&self, column: &Column) -> Result<(), Refusal> {
        match column {
            Column::Number(0) => Err(wrong("columns", "Columns are counted from 1.")),
            Column::Number(_) => Ok(()),
            Column::Header(_) if self.header_line == 0 => {
                Err(wrong("columns", "Without a line that names the columns, give their numbers."))
            }
            Column::Header(name) => text::line(name, "columns", SHORT).map(drop),
        }
    }

    fn check_layout(&self) -> Result<(), Refusal> {
        if self.layout.exercises().contains(&0) {
            return Err(wrong("exercise", "Exercises are counted from 1."));
        }
        match &self.layout {
            Layout::RowPerExercise { exercise: ExerciseOf::Order { exercises }, .. } => {
                let any = exercises.iter().any(Option::is_some);
                check_count(exercises.len(), any, "exercises")
            }
            Layout::RowPerExercise { exercise: ExerciseOf::Column { names, .. }, .. } => {
                check_count(names.len(), true, "names")?;
                names.keys().try_for_each(|name| text::line(name, "names", SHORT).map(drop))
            }
            Layout::RowPerTest { measurements } => {
                check_count(measurements.len(), !measurements.is_empty(), "measurements")?;
                let mut kinds = measurements.iter().map(|one| one.columns.basis());
                let first = kinds.next();
                if kinds.all(|kind| Some(kind) == first) {
                    return Ok(());
                }
                Err(wrong("measurements", "The measurements of one test are all of one kind."))
            }
        }
    }
}

fn check_count(count: usize, any: bool, field: &'static str) -> Result<(), Refusal> {
    if count > ENTRIES_MAX {
        return Err(wrong(field, format!("There are at most {ENTRIES_MAX} of these.")));
    }
    if any { Ok(()) } else { Err(wrong(field, "There is nothing to read: name one measurement or more.")) }
}

fn wrong(field: &'static str, sentence: impl Into<String>) -> Refusal {
    Refusal::new(Code::InvalidValue, sentence).field(field)
}
