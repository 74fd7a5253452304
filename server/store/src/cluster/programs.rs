//! Finding the installed PostgreSQL server programs, and the version that fits a stored database.

use std::{
    env, fs,
    path::{Path, PathBuf},
    process::Command,
};

use super::error::{ClusterError, plain};

/// The oldest major version whose SQL the migrations may use.
pub(super) const OLDEST_MAJOR: u32 = 15;

/// One installed set of server programs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Programs {
    folder: PathBuf,
    major: u32,
    version: String,
}

impl Programs {
    /// The folder that holds `initdb` and `postgres`, links resolved.
    #[must_use]
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// The major version, for example 15.
    #[must_use]
    pub fn major(&self) -> u32 {
        self.major
    }

    /// The whole version as the program tells it, for example `15.14`.
    #[must_use]
    pub fn version(&self) -> &str {
        &self.version
    }

    /// The path of one of the programs.
    pub(super) fn program(&self, name: &str) -> PathBuf {
        self.folder.join(name)
    }

    /// Reads the version of the programs in `folder`.
    fn in_folder(folder: &Path) -> Result<Self, String> {
        let file = folder.join("postgres");
        // Links are resolved because packagers link single programs into a common folder, while the server
        // looks for its libraries and its other programs beside the real file.
        let real = fs::canonicalize(&file).map_err(|error| format!("postgres: {}", plain(&error)))?;
        let folder = real.parent().unwrap_or(folder).to_owned();
        if !folder.join("initdb").is_file() {
            return Err("there is no initdb beside postgres".to_owned());
        }
        let output = Command::new(folder.join("postgres"))
            .arg("--version")
            .env_clear()
            .env("LC_ALL", "C")
            .output()
            .map_err(|error| format!("postgres: {}", plain(&error)))?;
        let text = String::from_utf8_lossy(&output.stdout).into_owned();
        let (major, version) = parse_version(&text).ok_or("postgres --version gave no version")?;
        Ok(Self { folder, major, version })
    }
}

/// Chooses the programs for a home: `explicit` and nothing else if given; else, of the installed ones that
/// are new enough, those that match the stored database's major version, or the first found if there is no
/// database yet.
pub(super) fn choose(
    explicit: Option<&Path>,
    stored: Option<(&Path, &str)>,
) -> Result<Programs, ClusterError> {
    let found = match explicit {
        Some(folder) => vec![
            Programs::in_folder(folder)
                .map_err(|reason| ClusterError::BadPrograms { folder: folder.to_owned(), reason })?,
        ],
        None => installed(&candidates()),
    };
    pick(&found, stored)
}

/// The rule of [`choose`] on a list already found, the preferred ones first.
fn pick(found: &[Programs], stored: Option<(&Path, &str)>) -> Result<Programs, ClusterError> {
    if found.is_empty() {
        return Err(ClusterError::NoPrograms);
    }
    let usable: Vec<&Programs> = found.iter().filter(|programs| programs.major >= OLDEST_MAJOR).collect();
    if usable.is_empty() {
        return Err(ClusterError::ProgramsTooOld { found: majors(found) });
    }
    let Some((data, made_by)) = stored else {
        return Ok(usable[0].clone());
    };
    usable
        .iter()
        .find(|programs| programs.major.to_string() == made_by)
        .map(|found| (*found).clone())
        .ok_or_else(|| ClusterError::VersionMismatch {
            data: data.to_owned(),
            made_by: made_by.to_owned(),
            installed: majors(found),
        })
}

/// "15" or "15 and 17", for a sentence.
fn majors(found: &[Programs]) -> String {
    let mut list: Vec<u32> = found.iter().map(|programs| programs.major).collect();
    list.sort_unstable();
    list.dedup();
    list.iter().map(u32::to_string).collect::<Vec<_>>().join(" and ")
}

/// The working programs among `folders`, in that order and each only once.
fn installed(folders: &[PathBuf]) -> Vec<Programs> {
    let mut found: Vec<Programs> = Vec::new();
    for folder in folders {
        match Programs::in_folder(folder) {
            Ok(programs) if !found.iter().any(|known| known.folder == programs.folder) => {
                found.push(programs)
            }
            Ok(_) => {}
            Err(reason) => tracing::debug!(folder = %folder.display(), reason, "no server programs here"),
        }
    }
    found
}

/// Every folder where server programs are commonly installed, the preferred ones first: what the person put
/// on PATH, then the versioned folders of Debian, Homebrew and RHEL.
fn candidates() -> Vec<PathBuf> {
    let path = env::var_os("PATH").unwrap_or_default();
    // An empty or relative entry of PATH means the current directory: a program from there must not run as
    // root.
    let mut folders: Vec<PathBuf> = env::split_paths(&path).filter(|folder| folder.is_absolute()).collect();
    folders.extend(versioned(Path::new("/usr/lib/postgresql"), ""));
    for prefix in ["/opt/homebrew/opt", "/usr/local/opt", "/home/linuxbrew/.linuxbrew/opt"] {
        folders.extend(versioned(Path::new(prefix), "postgresql@"));
        folders.push(Path::new(prefix).join("postgresql/bin"));
    }
    folders.extend(versioned(Path::new("/usr"), "pgsql-"));
    folders.retain(|folder| folder.join("postgres").is_file());
    folders
}

/// The `bin` folders in `parent` whose own name is `prefix` and a version, the newest first.
fn versioned(parent: &Path, prefix: &str) -> Vec<PathBuf> {
    let Ok(entries) = fs::read_dir(parent) else {
        return Vec::new();
    };
    let mut found: Vec<(Vec<u32>, PathBuf)> = entries
        .flatten()
        .filter_map(|entry| {
            let name = entry.file_name().into_string().ok()?;
            let version: Option<Vec<u32>> =
                name.strip_prefix(prefix)?.split('.').map(|part| part.parse().ok()).collect();
            Some((version?, entry.path().join("bin")))
        })
        .collect();
    found.sort();
    found.into_iter().rev().map(|(_, folder)| folder).collect()
}

/// Reads "postgres (PostgreSQL) 15.14 (Debian 15.14-0+deb12u1)"; versions under development say "18beta1".
fn parse_version(text: &str) -> Option<(u32, String)> {
    let version = text.split("(PostgreSQL)").nth(1)?.split_whitespace().next()?;
    let digits: String = version.chars().take_while(char::is_ascii_digit).collect();
    Some((digits.parse().ok()?, version.to_owned()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn programs(majors: &[u32]) -> Vec<Programs> {
        majors
            .iter()
            .map(|&major| Programs {
                folder: PathBuf::from(format!("/pg/{major}")),
                major,
                version: format!("{major}.1"),
            })
            .collect()
    }

    #[test]
    fn versions_are_read_from_the_programs_own_words() {
        assert_eq!(
            parse_version("postgres (PostgreSQL) 15.14 (Debian 15.14-0+deb12u1)\n"),
            Some((15, "15.14".to_owned()))
        );
        assert_eq!(parse_version("postgres (PostgreSQL) 18beta1"), Some((18, "18beta1".to_owned())));
        assert_eq!(parse_version("postgres (PostgreSQL) devel"), None);
        assert_eq!(parse_version(""), None);
    }

    #[test]
    fn a_new_home_takes_the_first_that_is_new_enough() {
        assert_eq!(pick(&programs(&[14, 16, 17]), None).unwrap().major, 16);
    }

    #[test]
    fn a_stored_database_takes_its_own_version_or_none() {
        let data = Path::new("/d");
        assert_eq!(pick(&programs(&[17, 15]), Some((data, "15"))).unwrap().major, 15);
        let sentence = pick(&programs(&[17, 15]), Some((data, "16"))).unwrap_err().to_string();
        assert!(
            sentence.contains("made by PostgreSQL 16") && sentence.contains("version 15 and 17"),
            "{sentence}"
        );
        assert!(sentence.contains("postgresql-16"), "{sentence}");
    }

    #[test]
    fn none_or_too_old_programs_say_what_to_install() {
        let none = pick(&[], None).unwrap_err().to_string();
        assert!(none.contains("apt-get install postgresql") && none.contains("DATABASE_URL"), "{none}");
        let old = pick(&programs(&[13, 14]), None).unwrap_err().to_string();
        assert!(old.contains("PostgreSQL 15 or newer") && old.contains("13 and 14"), "{old}");
    }

    #[test]
    fn versioned_folders_come_newest_first_by_number() {
        let parent = tempfile::tempdir().unwrap();
        for name in ["pg-9.6", "pg-15", "pg-17", "pg-x", "other"] {
            fs::create_dir(parent.path().join(name)).unwrap();
        }
        let found = versioned(parent.path(), "pg-");
        let expected: Vec<PathBuf> =
            ["pg-17", "pg-15", "pg-9.6"].iter().map(|name| parent.path().join(name).join("bin")).collect();
        assert_eq!(found, expected);
        assert_eq!(versioned(&parent.path().join("missing"), ""), Vec::<PathBuf>::new());
    }

    #[test]
    fn a_folder_without_programs_is_named() {
        let folder = tempfile::tempdir().unwrap();
        let sentence = choose(Some(folder.path()), None).unwrap_err().to_string();
        assert!(sentence.contains(&folder.path().display().to_string()), "{sentence}");
        assert!(sentence.contains("no such file"), "{sentence}");
    }
}
