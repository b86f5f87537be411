//! Writing a content package of 2.2 items with their companions.

use super::paths::encoded;
use super::zip::ZipWriter;
use crate::xml::markup::Markup;
use std::io::{self, Write};

const ITEM_NAMESPACE: &str = "http://www.imsglobal.org/xsd/imsqti_v2p2";
const ITEM_SCHEMA: &str =
    "http://www.imsglobal.org/xsd/imsqti_v2p2 http://www.imsglobal.org/xsd/qti/qtiv2p2/imsqti_v2p2.xsd";
const MANIFEST_NAMESPACE: &str = "http://www.imsglobal.org/xsd/imscp_v1p1";
const INSTANCE: &str = "http://www.w3.org/2001/XMLSchema-instance";
const MATCH: &str = "http://www.imsglobal.org/question/qti_v2p2/rptemplates/match_correct";
const RESPONSE: &str = "RESPONSE";

/// A drawing as a file beside its item.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Companion {
    /// Its media type.
    pub kind: &'static str,
    /// The ending of its name.
    pub ending: &'static str,
    /// Its text.
    pub text: String,
}

/// An item as it is written.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Written {
    /// Its identifier and the stem of its files; unique in the package without regard to case.
    pub identifier: String,
    /// Its name, where that is no identifier.
    pub label: Option<String>,
    /// What is asked.
    pub prompt: String,
    /// The question, shown by its start.
    pub question: Option<Companion>,
    /// The choices in order; `None` draws nothing.
    pub choices: Vec<Option<Companion>>,
    /// The places of the keyed choices.
    pub key: Vec<usize>,
}

/// Writes a package item by item; the manifest comes last.
pub struct PackageWriter<W: Write> {
    zip: ZipWriter<W>,
    manifest: Markup,
}

impl<W: Write> PackageWriter<W> {
    /// Begins a package.
    #[must_use]
    pub fn new(out: W) -> Self {
        let mut manifest = Markup::default();
        manifest.open("manifest", &[("xmlns", Some(MANIFEST_NAMESPACE)), ("identifier", Some("MANIFEST"))]);
        manifest.open("metadata", &[]);
        manifest.leaf("schema", &[], "QTIv2.2 Package");
        manifest.leaf("schemaversion", &[], "1.0.0");
        manifest.close();
        manifest.empty("organizations", &[]);
        manifest.open("resources", &[]);
        Self { zip: ZipWriter::new(out), manifest }
    }

    /// Writes an item and its companions.
    ///
    /// # Errors
    /// Writing fails, or the package holds as many files as a zip file can.
    pub fn item(&mut self, item: &Written) -> io::Result<()> {
        let stem = &item.identifier;
        let path = format!("items/{stem}.xml");
        let mut files = vec![(path.clone(), markup(item))];
        files.extend(item.question.as_ref().map(|own| (format!("items/{stem}.{}", own.ending), own.text.clone())));
        for (at, choice) in item.choices.iter().enumerate() {
            files.extend(choice.as_ref().map(|own| (choice_file(stem, at, own), own.text.clone())));
        }
        let resource = [("identifier", Some(stem.as_str())), ("type", Some("imsqti_item_xmlv2p2"))];
        let href = encoded(&path);
        self.manifest.open("resource", &[resource[0], resource[1], ("href", Some(&href))]);
        for (name, text) in &files {
            self.manifest.empty("file", &[("href", Some(&encoded(name)))]);
            self.zip.entry(name, text.as_bytes())?;
        }
        self.manifest.close();
        Ok(())
    }

    /// Ends the package.
    ///
    /// # Errors
    /// Writing fails.
    pub fn finish(mut self) -> io::Result<W> {
        self.manifest.close();
        self.manifest.close();
        let text = format!("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n{}", self.manifest.into_text());
        self.zip.entry(super::package::MANIFEST, text.as_bytes())?;
        self.zip.finish()
    }
}

/// The identifier of a choice.
fn choice_name(at: usize) -> String {
    u8::try_from(at).ok().filter(|at| *at < 26).map_or(format!("C{}", at + 1), |at| char::from(b'A' + at).to_string())
}

fn choice_file(stem: &str, at: usize, own: &Companion) -> String {
    format!("items/{stem}-{}.{}", choice_name(at), own.ending)
}

fn markup(item: &Written) -> String {
    let mut markup = Markup::default();
    markup.open(
        "assessmentItem",
        &[
            ("xmlns", Some(ITEM_NAMESPACE)),
            ("xmlns:xsi", Some(INSTANCE)),
            ("xsi:schemaLocation", Some(ITEM_SCHEMA)),
            ("identifier", Some(&item.identifier)),
            ("title", Some(item.label.as_deref().unwrap_or(&item.identifier))),
            ("label", item.label.as_deref()),
            ("adaptive", Some("false")),
            ("timeDependent", Some("false")),
            ("toolName", Some("keyassay")),
            ("toolVersion", Some(env!("CARGO_PKG_VERSION"))),
        ],
    );
    declarations(&mut markup, item);
    markup.open("itemBody", &[]);
    if !item.prompt.is_empty() {
        markup.leaf("p", &[], &item.prompt);
    }
    if let Some(own) = &item.question {
        markup.open("div", &[]);
        let file = encoded(&format!("{}.{}", item.identifier, own.ending));
        markup.open("object", &[("type", Some(own.kind)), ("data", Some(&file))]);
        markup.empty("param", &[("name", Some("role")), ("value", Some("start")), ("valuetype", Some("DATA"))]);
        markup.close();
        markup.close();
    }
    interaction(&mut markup, item);
    markup.close();
    if !item.key.is_empty() {
        markup.empty("responseProcessing", &[("template", Some(MATCH))]);
    }
    markup.close();
    format!("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n{}", markup.into_text())
}

fn declarations(markup: &mut Markup, item: &Written) {
    let kind = if item.choices.is_empty() { "string" } else { "identifier" };
    let cardinality = if item.key.len() > 1 { "multiple" } else { "single" };
    let attributes = [("identifier", Some(RESPONSE)), ("cardinality", Some(cardinality)), ("baseType", Some(kind))];
    if item.key.is_empty() {
        markup.empty("responseDeclaration", &attributes);
    } else {
        markup.open("responseDeclaration", &attributes);
        markup.open("correctResponse", &[]);
        for at in &item.key {
            markup.leaf("value", &[], &choice_name(*at));
        }
        markup.close();
        markup.close();
    }
    let score = [("identifier", Some("SCORE")), ("cardinality", Some("single")), ("baseType", Some("float"))];
    markup.empty("outcomeDeclaration", &score);
}

fn interaction(markup: &mut Markup, item: &Written) {
    if item.choices.is_empty() {
        markup.empty("extendedTextInteraction", &[("responseIdentifier", Some(RESPONSE))]);
        return;
    }
    // 0: as many as there are.
    let most = if item.key.len() > 1 { "0" } else { "1" };
    let attributes = [("responseIdentifier", Some(RESPONSE)), ("shuffle", Some("false")), ("maxChoices", Some(most))];
    markup.open("choiceInteraction", &attributes);
    for (at, choice) in item.choices.iter().enumerate() {
        let identifier = choice_name(at);
        let Some(own) = choice else {
            markup.empty("simpleChoice", &[("identifier", Some(&identifier))]);
            continue;
        };
        markup.open("simpleChoice", &[("identifier", Some(&identifier))]);
        let file = choice_file(&item.identifier, at, own);
        let file = encoded(file.strip_prefix("items/").unwrap_or(&file));
        markup.empty("object", &[("type", Some(own.kind)), ("data", Some(&file))]);
        markup.close();
    }
    markup.close();
}
