//! The reports of one audit, made in a folder of their own and brought to their places together.
//!
//! A folder of reports is read while the next audit runs, and an audit can end at any moment: a full disk, a lost machine,
//! an impatient person. So nothing stands under its own name before all of it is whole and on the disk.

use super::html;
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
    /// # Errors
    /// A report cannot get its name: something that is no file has it, or the disk refuses.
    pub fn finish(self, interrupted: bool) -> io::Result<PathBuf> {
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
        for name in &names {
            fs::rename(self.folder.join(name), place.join(name))?;
        }
        // The names themselves are on the disk once their folder is; not every system can be asked for that.
        let _ = fs::File::open(&place).and_then(|folder| folder.sync_all());
        let written: HashSet<&str> = names.iter().filter_map(|name| name.to_str()).collect();
        if written.contains("audit.html") {
            html::remove_older(&place, &written)?;
        }
        Ok(place)
    }
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
