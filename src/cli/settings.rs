//! Which profile applies, and what comes of it.

use super::complain::{Complaint, Shown};
use crate::bank::Settings;
use crate::findings::Severity;
use crate::profile::{self, Profile};
use crate::report::terminal::plain;
use crate::source::Encoding;
use crate::source::path::{name_of, whole};
use crate::structure::OctetRule;
use anyhow::Context as _;
use ignore::gitignore::{Gitignore, GitignoreBuilder};
use std::fs;
use std::io::Read as _;
use std::path::{Path, PathBuf};

/// The name of a profile that is found by itself.
pub(super) const NAME: &str = "keyassay.toml";
/// Bytes of a profile.
const PROFILE_BYTES: u64 = 1 << 16;

/// The profile of commands that read banks.
#[derive(Debug, Default, clap::Args)]
pub(crate) struct BankOptions {
    /// The profile; else `keyassay.toml` beside or above the bank.
    #[arg(long, value_name = "FILE")]
    pub(crate) profile: Option<PathBuf>,
    /// Encoding of files without a byte order mark: utf-8, utf-16le, utf-16be, windows-1252, latin-1.
    #[arg(long, value_name = "NAME", value_parser = encoding)]
    pub(crate) encoding: Option<Encoding>,
}

/// Which shells are over-full.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub(super) enum Octet {
    /// As structures are conventionally drawn.
    Usual,
    /// Beyond 8 for all main-group atoms.
    Strict,
}

impl Octet {
    /// As the judges take it.
    pub(super) fn rule(self) -> OctetRule {
        match self {
            Self::Usual => OctetRule::Usual,
            Self::Strict => OctetRule::Strict,
        }
    }
}

/// The settings of commands that take structures, not banks.
#[derive(Debug, Default, clap::Args)]
pub(super) struct StructureOptions {
    /// A profile: its limits and its octet rule apply.
    #[arg(long, value_name = "FILE")]
    pub(super) profile: Option<PathBuf>,
    /// Which shells are over-full: as conventionally drawn (usual), or beyond 8 for all main-group atoms (strict).
    #[arg(long, value_name = "RULE")]
    octet: Option<Octet>,
}

impl StructureOptions {
    /// What the profile and the options set.
    pub(super) fn profile(&self) -> anyhow::Result<Profile> {
        Ok(self.over(Applied::load(self.profile.clone())?.profile))
    }

    /// A profile with what the options set.
    pub(super) fn over(&self, mut profile: Profile) -> Profile {
        if let Some(octet) = self.octet {
            profile.octet = octet.rule();
        }
        profile
    }
}

/// The encoding that an option names.
pub(super) fn encoding(name: &str) -> Result<Encoding, String> {
    let names = || Encoding::NAMES.iter().map(|(own, _)| *own);
    Encoding::from_name(name).ok_or_else(|| match profile::nearest(name, names()) {
        Some(near) => format!("did you mean '{near}'?"),
        None => format!("expected one of {}", names().collect::<Vec<_>>().join(", ")),
    })
}

/// The profile that applies, and where it lies.
pub(crate) struct Applied {
    /// What it sets; as usual where there is none.
    pub(crate) profile: Profile,
    /// Its file.
    pub(super) path: Option<PathBuf>,
    files: Option<Gitignore>,
    encodings: Vec<(Gitignore, Encoding)>,
}

impl Applied {
    /// The profile for these banks.
    pub(crate) fn for_banks(options: &BankOptions, banks: &[PathBuf]) -> anyhow::Result<Self> {
        let path = match &options.profile {
            Some(path) => Some(path.clone()),
            None => find(banks)?,
        };
        let mut applied = Self::load(path)?;
        if options.encoding.is_some() {
            applied.profile.encoding = options.encoding;
            applied.encodings.clear();
        }
        Ok(applied)
    }

    /// How one bank is read.
    pub(super) fn of_bank(options: &BankOptions, bank: &Path) -> anyhow::Result<Settings> {
        let applied = Self::for_banks(options, &[bank.to_owned()])?;
        let own = applied.encoding_of(bank);
        let settings = applied.profile.bank();
        Ok(Settings { encoding: own.or(settings.encoding), ..settings })
    }

    /// The profile in this file, or none.
    pub(crate) fn load(path: Option<PathBuf>) -> anyhow::Result<Self> {
        let profile = path.as_deref().map_or_else(|| Ok(Profile::default()), read)?;
        let mut applied = Self { profile, path, files: None, encodings: Vec::new() };
        if !applied.profile.files.is_empty() {
            applied.files = Some(applied.patterns(&applied.profile.files)?);
        }
        for (pattern, encoding) in applied.profile.encodings.clone() {
            applied.encodings.push((applied.patterns(&[pattern])?, encoding));
        }
        Ok(applied)
    }

    /// The folder from which paths in the profile go.
    pub(super) fn folder(&self) -> PathBuf {
        let folder = self.path.as_deref().and_then(Path::parent).unwrap_or(Path::new(""));
        if folder.as_os_str().is_empty() { PathBuf::from(".") } else { folder.to_owned() }
    }

    fn patterns(&self, patterns: &[String]) -> anyhow::Result<Gitignore> {
        let mut builder = GitignoreBuilder::new("");
        for pattern in patterns {
            let name = name_of(self.path.as_deref().unwrap_or(Path::new("")));
            anyhow::ensure!(
                !is_open(pattern),
                "{name}: the pattern '{}' opens a bracket and does not close it: write \\[ for the character itself",
                plain(pattern)
            );
            builder.add_line(None, pattern).with_context(|| format!("{name}: the pattern '{}'", plain(pattern)))?;
        }
        Ok(builder.build()?)
    }

    /// The path of a file from the profile's folder; `None` where it lies elsewhere.
    fn inside(&self, file: &Path) -> Option<PathBuf> {
        let (file, folder) = (whole(file).ok()?, whole(&self.folder()).ok()?);
        file.strip_prefix(folder).ok().map(Path::to_owned)
    }

    /// Whether a file that was met in a folder is one of the bank's.
    pub(super) fn takes(&self, file: &Path) -> bool {
        let Some(files) = &self.files else { return true };
        let found = self.inside(file).map(|own| files.matched_path_or_any_parents(own, false));
        match found {
            Some(found) if !found.is_none() => found.is_ignore(),
            _ => files.num_ignores() == 0,
        }
    }

    /// The encoding of a file, where the profile names one for it alone.
    pub(super) fn encoding_of(&self, file: &Path) -> Option<Encoding> {
        if self.encodings.is_empty() {
            return None;
        }
        let inside = self.inside(file)?;
        let fits = |patterns: &Gitignore| patterns.matched_path_or_any_parents(&inside, false).is_ignore();
        self.encodings.iter().rev().find(|(patterns, _)| fits(patterns)).map(|(_, encoding)| *encoding)
    }
}

/// Whether a pattern opens a set of characters and does not close it. The library takes such a bracket for a character.
fn is_open(pattern: &str) -> bool {
    let mut characters = pattern.chars();
    while let Some(c) = characters.next() {
        match c {
            '\\' => drop(characters.next()),
            '[' => {
                // A bracket right behind the first one, or behind its `!` or `^`, is one of the set.
                let rest = characters.as_str().trim_start_matches(['!', '^']);
                let Some(end) = rest.char_indices().skip(1).find(|(_, c)| *c == ']') else { return true };
                characters = rest[end.0 + 1..].chars();
            }
            _ => {}
        }
    }
    false
}

/// The profile beside or above the banks, which must be the same for all.
fn find(banks: &[PathBuf]) -> anyhow::Result<Option<PathBuf>> {
    let mut found: Option<(&Path, Option<PathBuf>)> = None;
    for bank in banks {
        let own = above(bank);
        match &found {
            None => found = Some((bank, own)),
            Some((_, other)) if *other == own => {}
            Some((first, other)) => {
                let name = |path: &Option<PathBuf>| match path {
                    Some(path) => format!("under {}", path.display()),
                    None => format!("under no {NAME}"),
                };
                anyhow::bail!(
                    "{} stands {}, {} {}: audit them apart, or give --profile",
                    first.display(),
                    name(other),
                    bank.display(),
                    name(&own)
                );
            }
        }
    }
    Ok(found.and_then(|(_, path)| path).map(shortened))
}

/// The profile beside or above one bank; standard input stands in the working folder.
fn above(bank: &Path) -> Option<PathBuf> {
    let bank = if bank == Path::new("-") { Path::new(".") } else { bank };
    let bank = whole(bank).ok()?;
    bank.ancestors().map(|folder| folder.join(NAME)).find(|profile| profile.is_file())
}

/// A path as a person in the working folder would write it.
fn shortened(path: PathBuf) -> PathBuf {
    let here = std::env::current_dir().and_then(|here| whole(&here));
    match here.ok().and_then(|here| path.strip_prefix(here).map(Path::to_owned).ok()) {
        Some(short) => short,
        None => path,
    }
}

fn read(path: &Path) -> anyhow::Result<Profile> {
    let name = name_of(path);
    let text = text_of(path, "profile", PROFILE_BYTES)?;
    profile::read(&text).map_err(|faults| refused(&faults, &name, &text))
}

/// The text of a file that a person keeps beside the banks.
pub(super) fn text_of(path: &Path, what: &str, most: u64) -> anyhow::Result<String> {
    let name = path.display();
    let cannot = || format!("the {what} {name} cannot be read");
    let mut bytes = Vec::new();
    fs::File::open(path).with_context(cannot)?.take(most + 1).read_to_end(&mut bytes).with_context(cannot)?;
    anyhow::ensure!(bytes.len() as u64 <= most, "the {what} {name} passes the limit of {most} bytes");
    String::from_utf8(bytes).with_context(|| format!("the {what} {name} is not UTF-8: save it as UTF-8"))
}

/// Faults of such a file as one error.
pub(super) fn refused(faults: &[profile::Fault], name: &str, text: &str) -> anyhow::Error {
    let shown: Vec<String> = faults.iter().take(TOLD).map(|fault| complaint(fault, name, text)).collect();
    let more = faults.len().saturating_sub(TOLD);
    let more = if more > 0 { format!("\nand {more} more") } else { String::new() };
    anyhow::Error::new(Shown(shown.join("\n") + &more))
}

/// Faults of one file that are told one by one.
const TOLD: usize = 20;

fn complaint(fault: &profile::Fault, name: &str, text: &str) -> String {
    let span = fault.span.start as usize..fault.span.end as usize;
    let (message, remedy) = (fault.message.as_str(), fault.remedy.as_str());
    Complaint { severity: Severity::Error, message, file: Some(name), text, line: 1, span, remedy }.render()
}
