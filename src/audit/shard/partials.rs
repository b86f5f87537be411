//! Partial audits, read side by side.

use super::sealed::{Broken, Seal};
use super::{Kept, Line, Manifest};
use std::fs::File;
use std::io::{self, BufRead, BufReader, Lines};
use std::path::{Path, PathBuf};

/// The partial audits of all shards of one audit.
pub struct Partials {
    manifest: Manifest,
    /// By shard.
    readers: Vec<Reader>,
}

impl Partials {
    /// Opens the partial audits in folders.
    ///
    /// # Errors
    /// There are none, one cannot be read, they are not of one audit, or shards are missing.
    pub fn open(folders: &[PathBuf]) -> io::Result<Self> {
        let mut found: Vec<(Reader, Manifest)> = Vec::new();
        for folder in folders {
            for path in partials_in(folder).map_err(|error| told_of(folder, &error))? {
                found.push(Reader::open(&path)?);
            }
        }
        found.sort_by_key(|(_, manifest)| manifest.shard.own);
        let Some((_, manifest)) = found.first() else {
            return Err(io::Error::other("there is no partial audit in these folders (shard-0001-of-0008.jsonl, ...)"));
        };
        let manifest = manifest.clone();
        let of = manifest.shard.of;
        let mut readers: Vec<Reader> = Vec::new();
        let mut missing = Vec::new();
        let mut next = 1;
        for (reader, other) in found {
            let own = other.shard.own;
            if other.shard.of != of || (Manifest { shard: manifest.shard, ..other }) != manifest {
                return Err(reader.fault("is of another audit than the others (banks, settings, shards or version)"));
            }
            if own < next {
                return Err(reader.fault("stands there twice: keep one"));
            }
            missing.extend(next..own);
            next = own + 1;
            readers.push(reader);
        }
        missing.extend(next..=of);
        if let Some(first) = missing.first() {
            let names: Vec<String> = missing.iter().map(|own| format!("{own}/{of}")).collect();
            return Err(io::Error::other(format!(
                "shards are missing: {}. Run them again: keyassay audit ... --shard {first}/{of}",
                names.join(", ")
            )));
        }
        Ok(Self { manifest, readers })
    }

    /// Reads all of them once more.
    ///
    /// # Errors
    /// One cannot be opened, or is another than before.
    pub fn begin_again(&mut self) -> io::Result<()> {
        for reader in &mut self.readers {
            let (again, manifest) = Reader::open(&reader.path)?;
            if (Manifest { shard: self.manifest.shard, ..manifest }) != self.manifest {
                return Err(again.changed());
            }
            *reader = again;
        }
        Ok(())
    }

    /// What was audited.
    #[must_use]
    pub fn manifest(&self) -> &Manifest {
        &self.manifest
    }

    pub(super) fn chunk(&mut self, number: u64) -> io::Result<Vec<Option<Kept>>> {
        let at = (number % self.readers.len() as u64) as usize;
        let reader = &mut self.readers[at];
        match reader.next()? {
            Line::Chunk(own, items) if own == number => Ok(items),
            _ => Err(reader.changed()),
        }
    }

    pub(super) fn end_of_file(&mut self, name: &str, mark: &str, chunks: u64) -> io::Result<()> {
        for reader in &mut self.readers {
            match reader.next()? {
                Line::File(own, own_mark, count) if own == name && own_mark == mark && count == chunks => {}
                _ => return Err(reader.changed()),
            }
        }
        Ok(())
    }

    pub(super) fn end(&mut self) -> io::Result<()> {
        for reader in &mut self.readers {
            match reader.next()? {
                Line::End if reader.lines.next().is_none() => {}
                _ => return Err(reader.changed()),
            }
        }
        Ok(())
    }
}

/// The partial audits in a folder, by name.
fn partials_in(folder: &Path) -> io::Result<Vec<PathBuf>> {
    let mut paths = Vec::new();
    for entry in std::fs::read_dir(folder)? {
        let path = entry?.path();
        let name = path.file_name().and_then(|name| name.to_str()).unwrap_or_default();
        if name.starts_with("shard-") && path.extension().is_some_and(|ending| ending == "jsonl") {
            paths.push(path);
        }
    }
    paths.sort();
    Ok(paths)
}

fn told_of(path: &Path, error: &io::Error) -> io::Error {
    io::Error::new(error.kind(), format!("{}: {error}", path.display()))
}

struct Reader {
    path: PathBuf,
    lines: Lines<BufReader<File>>,
    seal: Seal,
    /// The line that was read last, counted from 1.
    number: u64,
}

impl Reader {
    fn open(path: &Path) -> io::Result<(Self, Manifest)> {
        let file = File::open(path).map_err(|error| told_of(path, &error))?;
        let mut reader = Self {
            path: path.to_owned(),
            lines: BufReader::with_capacity(1 << 17, file).lines(),
            seal: Seal::default(),
            number: 0,
        };
        match reader.next()? {
            Line::Manifest(manifest) => Ok((reader, manifest)),
            _ => Err(reader.fault("does not begin as a partial audit does")),
        }
    }

    fn next(&mut self) -> io::Result<Line> {
        let Some(line) = self.lines.next() else { return Err(self.fault("ends too early: run its shard again")) };
        let line = line.map_err(|error| told_of(&self.path, &error))?;
        self.number += 1;
        match self.seal.open(&line) {
            Ok(said) => serde_json::from_str(said)
                .map_err(|error| self.fault(&format!("cannot be read ({error}): run its shard again"))),
            Err(Broken::Unsealed) => {
                Err(self.fault("is of an older version, which kept no digests: run its shard again with this one"))
            }
            Err(Broken::Damaged) => {
                let what = format!("is damaged in line {}: its digest is another. Run its shard again", self.number);
                Err(self.fault(&what))
            }
        }
    }

    fn fault(&self, what: &str) -> io::Error {
        io::Error::other(format!("{} {what}", self.path.display()))
    }

    fn changed(&self) -> io::Error {
        self.fault("is of another state of the bank: audit all shards of one state, and gather while it stays")
    }
}
