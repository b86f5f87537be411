//! The reports of one audit, made in a folder of their own and brought to their places together.
//!
//! A folder of reports is read while the next audit runs, and an audit can end at any moment: a full disk, a lost machine,
//! an impatient person. So nothing stands under its own name before all of it is whole and on the disk.

use super::html;
use crate::source::path::name_of;
use std::collections::HashSet;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

/// Where reports of an audit that was interrupted are put, inside the folder of reports.
pub const PARTIAL: &str = "partial";
const PREFIX: &str = ".audit-";
const SUFFIX: &str = ".tmp";

/// A folder in which reports wait.
#[derive(Debug)]
pub struct Stage {
    out: PathBuf,
    folder: PathBuf,
}

impl Stage {
    /// Makes the folder of reports where it is not there, and in it the one to wait in. What killed audits have left there is
    /// removed.
    ///
    /// # Errors
    /// A folder cannot be made.
    pub fn create(out: &Path) -> io::Result<Self> {
        fs::create_dir_all(out)?;
        remove_left_over(out);
        let folder = out.join(format!("{PREFIX}{}{SUFFIX}", std::process::id()));
        if folder.is_dir() {
            fs::remove_dir_all(&folder)?;
        }
        fs::create_dir(&folder)?;
        Ok(Self { out: out.to_owned(), folder })
    }

    /// Where reports are written.
    #[must_use]
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// Brings the reports to their places and removes the pages of an earlier, longer audit. Those of an audit that was
    /// interrupted go into a folder of their own: they take no whole audit's place. Gives the folder where they are.
    ///
    /// A report that another program holds, as an open spreadsheet on Windows, is not replaced: the new one gets a name beside it.
    ///
    /// # Errors
    /// A report cannot get its name: something that is no file has it, or the disk refuses.
    pub fn finish(self, interrupted: bool) -> io::Result<Placed> {
        self.finish_by(interrupted, |from, to| fs::rename(from, to))
    }

    fn finish_by(self, interrupted: bool, rename: impl Fn(&Path, &Path) -> io::Result<()>) -> io::Result<Placed> {
        let place = if interrupted { self.out.join(PARTIAL) } else { self.out.clone() };
        fs::create_dir_all(&place)?;
        let mut names = fs::read_dir(&self.folder)?
            .map(|entry| entry.map(|entry| entry.file_name()))
            .collect::<io::Result<Vec<_>>>()?;
        // Later pages before `audit.html`, pages before `audit.json`: what others wait for comes last.
        // What a report keeps for itself goes when the report does.
        names.retain(|name| !name.to_string_lossy().ends_with(SUFFIX));
        names.sort_by_key(|name| (name == "audit.html", name == "audit.json", name.clone()));
        for name in &names {
            let path = place.join(name);
            if path.is_dir() {
                return Err(io::Error::other(format!("{} is a folder, and a report has its name", path.display())));
            }
        }
        let mut held = Vec::new();
        for name in &names {
            let (from, to) = (self.folder.join(name), place.join(name));
            match rename(&from, &to) {
                Err(error) if is_held(&error) => {
                    let beside = beside(&to);
                    // Where no other name helps, it is no other program.
                    rename(&from, &beside).map_err(|_| error)?;
                    held.push((to, beside));
                }
                other => other?,
            }
        }
        // The names themselves are on the disk once their folder is; not every system can be asked for that.
        let _ = fs::File::open(&place).and_then(|folder| folder.sync_all());
        let written: HashSet<&str> = names.iter().filter_map(|name| name.to_str()).collect();
        if written.contains("audit.html") {
            html::remove_older(&place, &written)?;
        }
        Ok(Placed { folder: place, held })
    }
}

/// Where reports are.
#[derive(Debug, Default)]
pub struct Placed {
    /// Their folder.
    pub folder: PathBuf,
    /// Reports that another program held, each with the name that the new one got.
    held: Vec<(PathBuf, PathBuf)>,
}

impl Placed {
    /// What there is to do about reports that could not be replaced.
    #[must_use]
    pub fn told(&self) -> Vec<String> {
        let one = |(held, beside): &(PathBuf, PathBuf)| {
            format!(
                "{} is open in another program and is still the old one: the new one is {}; close the old one and run this again",
                name_of(held),
                name_of(beside)
            )
        };
        self.held.iter().map(one).collect()
    }
}

/// Whether a name could not be given because another program holds the file. Of the numbers, which only Windows means so, the first
/// is a violation of sharing, the second one of a lock.
fn is_held(error: &io::Error) -> bool {
    matches!(error.kind(), io::ErrorKind::PermissionDenied | io::ErrorKind::ResourceBusy)
        || (cfg!(windows) && matches!(error.raw_os_error(), Some(32 | 33)))
}

/// `audit.new.csv` beside `audit.csv`.
fn beside(path: &Path) -> PathBuf {
    let mut name = path.file_stem().unwrap_or_default().to_os_string();
    name.push(".new");
    if let Some(ending) = path.extension() {
        name.push(".");
        name.push(ending);
    }
    path.with_file_name(name)
}

impl Drop for Stage {
    fn drop(&mut self) {
        // Best effort: what is left has no report's name, and the next audit removes it.
        let _ = fs::remove_dir_all(&self.folder);
    }
}

/// Removes what audits have left that were killed. Where the system does not tell which programs run, everything stays.
fn remove_left_over(out: &Path) {
    let processes = Path::new("/proc");
    if !processes.join("self").exists() {
        return;
    }
    let Ok(entries) = fs::read_dir(out) else { return };
    for entry in entries.flatten() {
        let name = entry.file_name();
        let process =
            name.to_str().and_then(|name| name.strip_prefix(PREFIX)?.strip_suffix(SUFFIX)?.parse::<u32>().ok());
        let is_over = process.is_some_and(|process| !processes.join(process.to_string()).exists());
        if is_over && entry.file_type().is_ok_and(|kind| kind.is_dir()) {
            let _ = fs::remove_dir_all(entry.path());
        }
    }
}

#[cfg(test)]
mod tests {
    use super::Stage;
    use std::fs;
    use std::io;

    /// A report that somebody has open stays, the new one stands beside it, the others are replaced; a disk that refuses is an error.
    #[test]
    fn a_report_that_is_open_is_written_beside() -> io::Result<()> {
        let out = std::env::temp_dir().join(format!("keyassay-held-{}", std::process::id()));
        let begin = || -> io::Result<Stage> {
            let _ = fs::remove_dir_all(&out);
            let stage = Stage::create(&out)?;
            for name in ["audit.xlsx", "audit.json", "audit"] {
                fs::write(out.join(name), "old")?;
                fs::write(stage.folder().join(name), "new")?;
            }
            Ok(stage)
        };
        let is_held = |to: &std::path::Path| to.ends_with("audit.xlsx") || to.ends_with("audit");
        let placed = begin()?.finish_by(false, |from, to| {
            if is_held(to) { Err(io::ErrorKind::PermissionDenied.into()) } else { fs::rename(from, to) }
        })?;
        let found: Vec<(String, String)> =
            [("audit.xlsx", "old"), ("audit.new.xlsx", "new"), ("audit.json", "new"), ("audit.new", "new")]
                .iter()
                .map(|(name, _)| ((*name).to_owned(), fs::read_to_string(out.join(name)).unwrap_or_default()))
                .collect();
        let told = placed.told();
        assert_eq!(
            found.iter().map(|own| own.1.as_str()).collect::<Vec<_>>(),
            ["old", "new", "new", "new"],
            "{found:?}"
        );
        assert!(
            told.len() == 2 && told[1].contains("audit.xlsx is open") && told[1].contains("audit.new.xlsx"),
            "{told:?}"
        );
        assert!(fs::read_dir(&out)?.count() == 5, "something is left over");
        // No name helps on a disk that cannot be written, and the first error is the one that is told.
        let refused = begin()?.finish_by(false, |_, _| Err(io::ErrorKind::PermissionDenied.into()));
        assert_eq!(refused.map(|_| ()).map_err(|own| own.kind()), Err(io::ErrorKind::PermissionDenied));
        let full = begin()?.finish_by(false, |_, _| Err(io::ErrorKind::StorageFull.into()));
        assert_eq!(full.map(|_| ()).map_err(|own| own.kind()), Err(io::ErrorKind::StorageFull));
        assert_eq!(fs::read_to_string(out.join("audit.json"))?, "old");
        fs::remove_dir_all(&out)
    }
}
