//! The manifest of a content package: which of its resources are items, and which files belong to them.

use super::paths;
use crate::limits::Limits;
use crate::xml::{RawAttribute, Scanner, Token, XmlProblem, plain_value};
use rustc_hash::FxHashMap;
use std::io::BufRead;

/// A resource as the manifest lists it.
#[derive(Debug, Clone, Default)]
pub(super) struct Listed {
    pub(super) identifier: String,
    /// Its type.
    pub(super) kind: String,
    /// The file that is the resource, as the manifest writes it.
    pub(super) href: String,
    /// The folder from which its files are named.
    pub(super) base: String,
    /// Its files, as they are called in the package.
    pub(super) files: Vec<String>,
    /// Identifiers of the resources that it depends on.
    pub(super) dependencies: Vec<String>,
}

impl Listed {
    /// Whether the resource is an item, or a file of items.
    pub(super) fn is_item(&self) -> bool {
        let kind = self.kind.to_ascii_lowercase();
        kind.starts_with("imsqti_item_xmlv") || kind.starts_with("imsqti_xmlv1")
    }
}

/// The resources of a manifest, in its order.
#[derive(Debug, Default)]
pub(super) struct Manifest {
    pub(super) resources: Vec<Listed>,
    by_name: FxHashMap<String, usize>,
    /// Bytes of the names that are kept.
    bytes: usize,
}

/// Resources that one resource may depend on, directly or not.
const MOST_DEPENDENCIES: usize = 100;

impl Manifest {
    /// Reads a manifest.
    pub(super) fn read(source: impl BufRead, limits: &Limits) -> Result<Self, XmlProblem> {
        let mut scanner = Scanner::new(source, limits).passing_doctype();
        let mut manifest = Self::default();
        // The folders that the open elements name their files from.
        let mut bases: Vec<String> = Vec::new();
        let mut is_root = true;
        loop {
            match scanner.next()? {
                Token::Start { name, attributes, tag, .. } => {
                    if std::mem::take(&mut is_root) && name != "manifest" {
                        return Err(XmlProblem::Malformed("it is no manifest".to_owned()));
                    }
                    let own = |key: &str| value(tag, attributes, key);
                    let base =
                        own("xml:base").and_then(|base| paths::resolve(bases.last().map_or("", |own| own), &base));
                    let base = base.map_or_else(|| bases.last().cloned().unwrap_or_default(), |(base, _)| base);
                    manifest.element(name, &own, &base, limits)?;
                    bases.push(base);
                }
                Token::End => drop(bases.pop()),
                Token::Text(..) => {}
                Token::Eof => break,
            }
        }
        let names = manifest.resources.iter().enumerate().rev();
        manifest.by_name = names.map(|(at, own)| (own.identifier.clone(), at)).collect();
        Ok(manifest)
    }

    fn element(
        &mut self,
        name: &str,
        own: &impl Fn(&str) -> Option<String>,
        base: &str,
        limits: &Limits,
    ) -> Result<(), XmlProblem> {
        let href = || own("href").unwrap_or_default();
        let kept = match name {
            "resource" => {
                let listed = Listed {
                    identifier: own("identifier").unwrap_or_default(),
                    kind: own("type").unwrap_or_default(),
                    href: href(),
                    base: base.to_owned(),
                    ..Listed::default()
                };
                let kept = listed.identifier.len() + listed.kind.len() + listed.href.len() + base.len();
                self.resources.push(listed);
                kept
            }
            "file" => {
                let file = paths::resolve(base, &href()).map(|(file, _)| file);
                let kept = file.as_ref().map_or(0, String::len);
                if let Some(resource) = self.resources.last_mut() {
                    resource.files.extend(file);
                }
                kept
            }
            "dependency" => {
                let named = own("identifierref").unwrap_or_default();
                let kept = named.len();
                if let Some(resource) = self.resources.last_mut() {
                    resource.dependencies.push(named);
                }
                kept
            }
            _ => return Ok(()),
        };
        // What a name costs beside its letters.
        self.bytes += kept + 64;
        if self.bytes > limits.record_bytes.saturating_mul(2) {
            return Err(XmlProblem::Limit { limit: "record-bytes", cap: limits.record_bytes });
        }
        Ok(())
    }

    /// The files of a resource and of those that it depends on.
    pub(super) fn companions(&self, resource: &Listed) -> Vec<String> {
        let mut files = Vec::new();
        let mut seen: Vec<usize> = Vec::new();
        let mut waiting = vec![resource];
        while let Some(own) = waiting.pop() {
            files.extend(
                own.files.iter().filter(|file| paths::notation(file).is_some()).take(MOST_DEPENDENCIES).cloned(),
            );
            for name in own.dependencies.iter().take(MOST_DEPENDENCIES) {
                let Some(at) = self.by_name.get(name).copied() else { continue };
                if seen.len() < MOST_DEPENDENCIES && !seen.contains(&at) {
                    seen.push(at);
                    waiting.extend(self.resources.get(at));
                }
            }
        }
        files
    }
}

fn value(tag: &str, attributes: &[RawAttribute], name: &str) -> Option<String> {
    let own = attributes.iter().find(|own| own.name.of(tag) == name)?;
    Some(plain_value(own.value.of(tag).trim()).into_owned())
}
